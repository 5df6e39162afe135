package notice

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// stageText makes the texts of the stages of an episode.
type stageText struct{ *composer }

// criticalWord stands in the subject of what is critical.
const criticalWord = " CRITICAL"

// priorityOf is that of a message: of its alarm, or critical where little time is left. What
// holds has time.
func priorityOf(t episode.Told) alert.Priority {
	if t.Stage == episode.Holds && t.To == alert.Active {
		return alert.Warning
	}
	if t.To == alert.Active && !t.SafeAt.IsZero() && t.SafeAt.Sub(t.At) <= episode.UrgentTime {
		return alert.Critical
	}
	return t.Key.Priority
}

// shapeOf is the sign before a subject, with a word where it is critical.
func shapeOf(t episode.Told, shape string) string {
	if priorityOf(t) == alert.Critical && t.To == alert.Active {
		return shape + criticalWord
	}
	return shape
}

// urgency says how soon a person must act.
func (c stageText) urgency(t episode.Told) string {
	priority := priorityOf(t)
	said := words.Capital(words.Priority(string(priority)))
	switch left := t.SafeAt.Sub(t.At); {
	case !t.SafeAt.IsZero() && left > 0 && priority == alert.Critical:
		return said + ", " + words.Span(left) + " left."
	case !t.SafeAt.IsZero() && left > 0:
		return "Warning: look within " + words.Span(left) + "."
	case priority == alert.Warning && (textOf(t.Key.Kind).drift || c.Alarms[t.Key].SafeLimit != nil || c.pastSafe(t.Event)):
		return "Warning: look soon."
	}
	return said + "."
}

// pastSafe reports whether a warning's value is past the safe limit already.
func (c stageText) pastSafe(e alert.Event) bool {
	k := e.Key
	k.Priority = alert.Critical
	x, ok := c.Alarms[k]
	return ok && x.Key == k && k.Kind.Unit() == alert.Celsius && x.Limit.Beyond(e.Value)
}

// staysAfter is how long something stands until it is said to last, and no longer to come and
// go (our choice).
const staysAfter = 12 * time.Hour

// stays reports whether what came and went has stood for long.
func (c stageText) stays(t episode.Told) bool {
	return c.Alarms[t.Key].True && !t.Began.IsZero() && t.At.Sub(t.Began) >= staysAfter
}

// since is a time for a subject: of another day, that day alone.
func (c stageText) since(t, from time.Time) string {
	if day := c.r.Date(t); day != c.r.Date(from) {
		return day
	}
	return c.r.Clock(t)
}

// recurrence says in one line that something comes and goes, or that it came to stay.
func (c stageText) recurrence(t episode.Told) string {
	said, since := words.Alarm(string(t.Key.Kind)), c.since(t.Since, t.At)
	shape, wrong := said.Shape, said.Wrong+" on and off since "+since
	switch {
	case c.stays(t):
		wrong = said.Wrong + " since " + c.since(t.Began, t.At)
	case textOf(t.Key.Kind).silence:
		wrong = "silent on and off"
	case t.Swings && t.Known:
		shape, wrong = words.Other, fmt.Sprintf("swings %s since %s", c.span(t, said), since)
	}
	return words.Subject(shapeOf(t, shape), c.place(t.Key), wrong)
}

// span is the lowest and the highest value of what comes and goes.
func (c stageText) span(t episode.Told, said words.AlarmText) string {
	if said.Quantity == words.Humidity {
		return c.r.Humidity(t.Lowest) + " to " + c.r.Humidity(t.Highest)
	}
	return c.r.Band(&t.Lowest, &t.Highest)
}

// comesAndGoes is the message of what was told several times in some hours.
func (c stageText) comesAndGoes(t episode.Told) (subject, body string) {
	said := words.Alarm(string(t.Key.Kind))
	subject = c.recurrence(t)
	lines := []string{subject, c.urgency(t)}
	often := fmt.Sprintf("%d times since %s", t.Times, c.r.When(t.Since, t.At))
	stays := c.stays(t)
	if stays {
		lines = append(lines, fmt.Sprintf("Since %s (%s). Before that it came and went.", c.r.When(t.Began, t.At), words.Span(t.At.Sub(t.Began))))
	}
	switch {
	case stays:
	case textOf(t.Key.Kind).silence:
		lines = append(lines, "It was silent "+often+", and came back in between: a loose plug or a worn cable.")
	case t.Swings && t.Known:
		lines = append(lines, fmt.Sprintf("It swings between %s since %s: %d times past a limit.", strings.ReplaceAll(c.span(t, said), "-", " and "), c.r.When(t.Since, t.At), t.Times))
	case t.Known:
		lines = append(lines, fmt.Sprintf("%s comes and goes: %s, between %s.", words.Capital(said.Wrong), often, strings.ReplaceAll(c.span(t, said), "-", " and ")))
	default:
		lines = append(lines, words.Capital(said.Wrong)+" comes and goes: "+often+".")
	}
	if value := c.value(said, c.present(t)); value != "" && !textOf(t.Key.Kind).silence {
		lines = append(lines, "Now "+value+".")
	}
	first := said.First
	if said.Quantity == words.Temperature && !stays {
		first = "See that the thermostat does not hunt: its probe, its place, its setting. Then the door, the window and the sun."
	}
	second, next := "", "No message for each time from now on. The next come after 1, 6, 12 and 24 h, then daily, at once where it is worse past the safe limit, and when it is over."
	if stays {
		second = c.secondOpinion(t.Key, said)
		next = "Next message within a day, at once where it is worse past the safe limit, or when it is over."
	}
	for _, x := range []string{c.eggsAtRisk(t.Key.Zone), second, "First: " + first, next, linkOf(c.composer, t.Key)} {
		if x != "" {
			lines = append(lines, x)
		}
	}
	return subject, strings.Join(lines, "\n") + "\n"
}

// unlike says why an expected episode is told of.
var unlike = map[episode.Unlike]string{
	episode.UnlikeWorse:  "it is worse",
	episode.UnlikeLonger: "it lasts longer",
	episode.UnlikeAlarm:  "another alarm stands, or the safe limit is near",
	episode.UnlikeProbe:  "another probe gives the worst value",
	episode.UnlikeHour:   "it began at another hour",
}

// daily says that it came at about this hour on several days, and when the next message comes.
func (c stageText) daily(t episode.Told, said words.AlarmText) string {
	if t.Days < episode.DailyDays {
		return ""
	}
	if t.Unlike != "" {
		return fmt.Sprintf("It was so on %d days before at about this hour. Today %s.", t.Days-1, unlike[t.Unlike])
	}
	worse, wider := c.r.Difference(episode.WorseKelvin), "by hour"
	if said.Quantity == words.Humidity {
		worse, wider = c.r.Humidity(episode.WorseHumidity), "wider"
	}
	return fmt.Sprintf("It was so on %d days at about this hour. From tomorrow on a message comes only if it is worse by %s or lasts longer than on those days, and once a week. If it is meant to be so, set the band %s.", t.Days, worse, wider)
}

// holds is the message of a value that goes no further, and is not back.
func (c stageText) holds(t episode.Told) (subject, body string) {
	kind := t.Key.Kind.Side().Kind()
	if kind == "" {
		kind = t.Key.Kind
	}
	said, now := words.Alarm(string(kind)), c.extreme(t.Key)
	shape, wrong := said.Shape, "holds"
	if !math.IsNaN(now) {
		wrong = "holds at " + c.r.Temperature(now)
	}
	subject = words.Subject(shape, c.place(t.Key), wrong)
	lines := []string{subject, "Warning: look today."}
	line := "It goes no further."
	if usual := c.Alarms[t.Key].Usual; usual != nil && !math.IsNaN(now) {
		side := "below"
		if now > *usual {
			side = "above"
		}
		line += fmt.Sprintf(" It is %s %s where it usually is at this hour.", c.r.Difference(math.Abs(now-*usual)), side)
	}
	lines = append(lines, line)
	for _, x := range []string{causeText(c).sentence(t.Key), c.eggsAtRisk(t.Key.Zone), "First: " + c.firstWhereItHolds(t.Key, said), "Next message when it gets worse, or when it is over.", linkOf(c.composer, t.Key)} {
		if x != "" {
			lines = append(lines, x)
		}
	}
	return subject, strings.Join(lines, "\n") + "\n"
}

// extreme is the present value of an alarm's probe, or of its zone; NaN where none is known.
func (c stageText) extreme(k alert.Key) float64 {
	if p, ok := c.Probes[c.Alarms[k].Probe]; ok && p.Fresh {
		return p.Celsius
	}
	if z := c.zone(k.Zone); z != nil && z.Extreme != nil {
		return *z.Extreme
	}
	return math.NaN()
}

// driftOver says how a change ended that was foretold to pass a limit.
func (c stageText) driftOver(e alert.Event) string {
	text := fmt.Sprintf("It was on its way to %s from %s, for %s.", c.r.Temperature(e.Limit), c.r.When(e.Began, e.At), words.Span(e.At.Sub(e.Began)))
	if now := c.extreme(e.Key); !math.IsNaN(now) {
		text += " Now " + c.r.Temperature(now)
		if usual := c.Alarms[e.Key].Usual; usual != nil {
			text += "; at this hour it usually is " + c.r.Temperature(*usual)
		}
		text += "."
	}
	return text + "\n"
}

// firstWhereItHolds is what a person does first about a value that holds: it has time.
func (c stageText) firstWhereItHolds(k alert.Key, said words.AlarmText) string {
	switch side := k.Kind.Side(); {
	case causeText(c).jumped(k):
		return causeText(c).first(k, said)
	case side == alert.TooCold:
		return "See that the heater runs and is set as you want it, and that door and window are shut."
	case side == alert.TooWarm:
		return "See that the heater is set as you want it, and that no sun falls in."
	}
	return said.First
}
