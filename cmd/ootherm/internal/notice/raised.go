package notice

import (
	"fmt"
	"math"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// raised is the message of an alarm that is raised or called again.
func (c *composer) raised(t episode.Told) (subject, body string) {
	e, said := t.Event, words.Alarm(string(t.Key.Kind))
	var lines []string
	add := func(more ...string) {
		for _, x := range more {
			if x != "" {
				lines = append(lines, x)
			}
		}
	}
	subject = c.headline(t)
	add(subject, stageText{c}.urgency(t), causeText{c}.sentence(e.Key), c.course(e, said), stageText{c}.daily(t, said))
	add(textOf(e.Key.Kind).details(c, e)...)
	add(learningSentence(c, e))
	if x := c.Alarms[e.Key].SafeLimit; x != nil {
		add("Safe limit: " + c.r.Coming(*x, e.At) + ".")
	}
	if recovering(e) {
		add(c.eggsAtRisk(e.Key.Zone), c.secondOpinion(e.Key, said), "First: "+words.FirstOnRecovery(e.Key.Kind, c.pastOtherSide(e)))
	} else {
		if e.ReAlarm {
			add("Told before; it lasts.")
		}
		add(c.eggsAtRisk(e.Key.Zone), c.secondOpinion(e.Key, said), "First: "+causeText{c}.first(e.Key, said), c.remoteHelp(e.Key), c.nextMessage(e))
	}
	add(linkOf(c, e.Key))
	return subject, strings.Join(lines, "\n") + "\n"
}

// linkOf leads to the page of an alarm; empty where no address is configured.
func linkOf(c *composer, k alert.Key) string {
	if c.URL == "" {
		return ""
	}
	return "To say that you saw it: " + strings.TrimSuffix(c.URL, "/") + "/alarm?key=" + url.QueryEscape(k.String()) + linkScope(c.URL)
}

// recovering reports whether a limit's alarm is called while its value is back within the
// limit: it was hidden until now, or the value is in the deadband.
func recovering(e alert.Event) bool {
	l := alert.Limit{At: e.Limit}
	switch e.Key.Kind {
	case alert.TemperatureHigh, alert.HumidityHigh:
		l.High = true
	case alert.TemperatureLow, alert.HumidityLow:
	default:
		return false
	}
	return !math.IsNaN(e.Value) && !l.Beyond(e.Value)
}

// pastOtherSide reports whether a temperature is past the other end of its zone's band.
func (c *composer) pastOtherSide(e alert.Event) bool {
	z := c.zone(e.Key.Zone)
	switch {
	case z == nil || !z.Banded:
		return false
	case e.Key.Kind == alert.TemperatureLow:
		return z.High != nil && e.Value >= *z.High
	}
	return e.Key.Kind == alert.TemperatureHigh && z.Low != nil && e.Value <= *z.Low
}

// course is since when it lasts, its worst value so far, and which way it goes.
func (c *composer) course(e alert.Event, said words.AlarmText) string {
	var parts []string
	row := textOf(e.Key.Kind)
	switch lasted := e.At.Sub(e.Began); {
	case row.drift: // its message says when a limit is passed
	case row.silence:
		parts = append(parts, c.silentSince(e))
	case lasted >= time.Minute:
		parts = append(parts, fmt.Sprintf("Since %s (%s).", c.r.When(e.Began, e.At), words.Span(lasted)))
	case row.worst != "":
		parts = append(parts, fmt.Sprintf("Since %s.", c.r.When(e.Began, e.At)))
	}
	if row.worst != "" {
		if peak := c.value(said, e.Peak); peak != "" && peak != c.value(said, e.Value) {
			parts = append(parts, row.worst+" "+peak+".")
		}
	}
	if z := c.zone(e.Key.Zone); z != nil && said.Quantity == words.Temperature && !(causeText{c}).jumped(e.Key) {
		recent, p := z.RecentKPerHour, c.Probes[c.Alarms[e.Key].Probe]
		if p.Recent != nil && len(z.Probes)+len(z.Boxed) > 1 {
			recent = *p.Recent // others of the zone may go another way
		}
		parts = append(parts, trendSentence(c.r, recent, p.HalfHourK))
	}
	return strings.TrimSpace(strings.Join(parts, " "))
}

// value is a figure of an event in the reader's units; empty where there is none.
func (c *composer) value(said words.AlarmText, v float64) string {
	return c.r.Value(said.Quantity, snapshot.OptFloat(v))
}

// limit is an event's limit in the reader's units, without the unit: it goes beside a value
// that has it.
func (c *composer) limit(e alert.Event, said words.AlarmText) string {
	switch said.Quantity {
	case words.Temperature:
		return c.r.Degrees(e.Limit)
	case words.Humidity:
		return c.r.Humidity(e.Limit)
	}
	return ""
}

// silentSince names the last reading of a silent probe, or of a silent bus. Of one probe it says
// what that was, and which way it went: what nobody measures may go on.
func (c *composer) silentSince(e alert.Event) string {
	probes := c.Buses[e.Key.Part]
	if _, ok := c.Probes[e.Key.Probe]; ok {
		probes = []string{e.Key.Probe}
	}
	when, span := c.r.When(e.Began, e.At), words.Span(e.At.Sub(e.Began))
	if !slices.ContainsFunc(probes, func(p string) bool { return c.Probes[p].Heard }) {
		return fmt.Sprintf("No reading since %s (%s).", when, span)
	}
	last := fmt.Sprintf("Last reading %s (%s ago)", when, span)
	if len(probes) > 1 {
		return last + "."
	}
	x := c.Probes[probes[0]]
	if !math.IsNaN(x.Celsius) {
		last += ": " + c.r.Temperature(x.Celsius)
		if math.Abs(x.BeforeK) >= movedKelvin {
			last += ", after " + fallingOrRising(x.BeforeK) + " " + c.r.Difference(math.Abs(x.BeforeK)) + " in half an hour"
		}
	}
	return last + "."
}

// remoteHelp is what to do about a critical temperature from afar.
func (c *composer) remoteHelp(k alert.Key) string {
	z, to := c.zone(k.Zone), textOf(k.Kind).refuge
	if z == nil || k.Priority != alert.Critical || to == "" {
		return ""
	}
	if z.Banded {
		to = "a room at " + c.r.Band(z.Low, z.High)
	}
	return "Cannot get there: ask whoever has a key to carry the boxes, level and unturned, to " + to + "."
}

// nextMessage says when the next message comes: by time, or because it gets worse.
func (c *composer) nextMessage(e alert.Event) string {
	if x := c.Alarms[e.Key].SafeLimit; x != nil && textOf(e.Key.Kind).drift {
		return "Next message if it passes " + c.r.Temperature(x.Limit) + ", or when it is over."
	}
	if textOf(e.Key.Kind).drift && e.Key.Priority == alert.Critical { // its limit is the safe one
		return "Next message if it passes " + c.r.Temperature(e.Limit) + ", or when it is over."
	}
	if textOf(e.Key.Kind).drift {
		return "Next message if it comes near the safe limit, or when it is over."
	}
	again := c.Alarms[e.Key].Again(e.At)
	if again == 0 {
		return ""
	}
	k := e.Key
	k.Priority = alert.Critical
	x, ok := c.Alarms[k]
	if !ok || e.Key.Priority != alert.Warning || k.Kind.Unit() != alert.Celsius || x.True {
		return fmt.Sprintf("Next message in %s if it lasts.", words.Span(again))
	}
	limit := c.r.Temperature(x.Limit.At)
	if x.Limit.Beyond(e.Value) {
		return fmt.Sprintf("It is past the safe limit of %s already: a critical message follows within %s if it lasts.", limit, words.Span(x.Limit.OnDelay))
	}
	return fmt.Sprintf("Next message if it passes %s, or in %s if it lasts.", limit, words.Span(again))
}
