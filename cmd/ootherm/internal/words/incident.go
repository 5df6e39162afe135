package words

import (
	"fmt"
	"math"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// IncidentText describes one part of an incident: a zone, a clutch or the alarms.
type IncidentText struct {
	Name  string
	Short string // the main fact in a few words; may be empty
	Lines []string
}

// Incident describes an incident to a reader. Its times are as seen from At.
type Incident struct {
	Reader
	At time.Time
}

// Zone describes what happened in a zone.
func (r Incident) Zone(z snapshot.IncidentZone) IncidentText {
	t := IncidentText{Name: z.Zone}
	say := func(format string, a ...any) { t.Lines = append(t.Lines, fmt.Sprintf(format, a...)) }
	if z.Highest == nil || z.Lowest == nil {
		say("nothing was measured here")
		return t
	}
	extreme := func(e snapshot.Extreme, value string) string {
		return fmt.Sprintf("%s %s (%s)", value, OnOrAt(r.Reader, e.At, r.At), e.Probe)
	}
	say("highest %s", extreme(*z.Highest, r.Temperature(z.Highest.Value)))
	say("lowest %s", extreme(*z.Lowest, r.Temperature(z.Lowest.Value)))
	var neverPassed []string
	for _, p := range z.Past {
		if p.Seconds == 0 {
			neverPassed = append(neverPassed, r.limit(p))
			continue
		}
		t.Lines = append(t.Lines, r.past(p))
	}
	if len(neverPassed) > 0 {
		say("never %s", strings.Join(neverPassed, ", nor "))
	}
	for _, j := range z.Jumps {
		say("%s: no heater is so fast; was the probe moved or unplugged, or a door open?", Jump(r.Reader, j.Probe, j.Kelvin, OnOrAt(r.Reader, j.At, r.At)))
	}
	for _, g := range z.Gaps {
		say("not measured from %s (%s)", r.Between(g.From, g.To, r.At), Span(g.To.Sub(g.From)))
	}
	if len(z.Gaps) == 0 {
		say("measured all the time")
	}
	return t
}

// Jump says that a probe's temperature jumped by so many kelvins; when is "at 14:05".
func Jump(r Reader, probe string, kelvin float64, when string) string {
	way := "down"
	if kelvin > 0 {
		way = "up"
	}
	return fmt.Sprintf("%s jumped %s by %s %s", probe, way, r.Difference(math.Abs(kelvin)), when)
}

// StoppedCycle says for how long the heater has not switched, and after how long it usually does:
// it is off, or on where it gets too warm.
func StoppedCycle(warm bool, since, usual time.Duration) string {
	is, then := "off", "comes on"
	if warm {
		is, then = "on", "goes off"
	}
	return fmt.Sprintf("The heater has been %s for %s, it seems; it usually %s after %s.", is, Span(since), then, Span(usual))
}

// limit formats a limit and its side: "colder than the safe 68.0 °F".
func (r Incident) limit(p snapshot.Past) string {
	side := map[string]string{"warm": "warmer", "cold": "colder", "damp": "damper", "dry": "drier"}[p.Side]
	value := r.Temperature(p.Limit)
	if p.Of == "humidity" {
		value = r.Humidity(p.Limit)
	}
	return fmt.Sprintf("%s than the %s %s", side, p.Band, value)
}

// past formats the time beyond a limit.
func (r Incident) past(p snapshot.Past) string {
	sum := r.limit(p) + ": " + Span(Seconds(p.Seconds))
	if p.Events > 1 {
		sum += fmt.Sprintf(" in all, %d times, longest %s", p.Events, Span(Seconds(p.Longest)))
	} else {
		sum += " at one stretch"
	}
	switch {
	case p.Of == "humidity" && p.Most >= 0.005:
		sum += fmt.Sprintf(", at most %.0f points past it", 100*p.Most)
	case p.Of != "humidity" && p.Most*r.scale() >= 0.05:
		sum += ", at most " + r.Difference(p.Most) + " past it"
	}
	return sum
}

// Alarm describes an alarm of the past: its fault, its place and its time.
func (r Incident) Alarm(a snapshot.PastAlarm) string {
	text := Alarm(a.Alarm)
	place := Place(snapshot.AlarmPlace{Zone: a.Zone, Box: a.Box, Probe: a.Probe, Clutch: a.Clutch, Part: a.Part})
	s := fmt.Sprintf("%s %s: %s (%s)", text.Shape, place, text.Wrong, a.Priority)
	if a.Ended != nil {
		s += fmt.Sprintf(", %s, %s", r.Between(a.Began, *a.Ended, r.At), Span(a.Ended.Sub(a.Began)))
	} else {
		s += fmt.Sprintf(", since %s, not over", r.When(a.Began, r.At))
	}
	if text.Quantity == Temperature || text.Quantity == Humidity {
		if peak := r.Value(text.Quantity, a.Peak); peak != "" && !strings.HasPrefix(a.Alarm, "drift") {
			word := "highest"
			if strings.HasSuffix(a.Alarm, "-low") {
				word = "lowest"
			}
			s += ", " + word + " " + peak
		}
	}
	return s
}

// Seen says when a past alarm was acknowledged. It is empty for a notice, which needs no
// acknowledgement.
func (r Incident) Seen(a snapshot.PastAlarm) string {
	switch {
	case a.Seen != nil:
		return "; seen " + r.When(*a.Seen, r.At)
	case a.Priority == "notice":
		return ""
	case a.Ended == nil:
		return "; not seen yet"
	}
	return "; not seen while it lasted"
}

// Clutch describes how far along a clutch was, what it felt, and how far that moved
// its hatch. It does not say whether the eggs live.
func (r Incident) Clutch(c snapshot.IncidentClutch) IncidentText {
	t := IncidentText{Name: c.Clutch}
	if c.Dam != nil {
		t.Name = *c.Dam + " " + c.Clutch
	}
	t.Name += " in " + c.Box + ", " + Count(c.Eggs, "egg", "eggs")
	say := func(format string, a ...any) { t.Lines = append(t.Lines, fmt.Sprintf(format, a...)) }
	if c.Developed != nil {
		say("%s then", r.Developed(*c.Developed))
	} else {
		say("how far along it was then is not known")
	}
	felt := ""
	if c.Felt != nil {
		felt = fmt.Sprintf("%s on average for %s", r.Temperature(*c.Felt), Span(Seconds(c.Seconds-c.Missing)))
		if c.Usual != nil {
			felt += ", " + r.Temperature(*c.Usual) + " in the week before"
		}
		if c.Missing > 0 {
			felt += fmt.Sprintf("; not measured for %s, bridged from both sides", Span(Seconds(c.Missing)))
		}
		say("felt %s", felt)
	} else {
		say("what it felt was not measured")
	}
	if c.Moved != nil {
		if d := *c.Moved; math.Abs(d) >= LeastMovedDays {
			t.Short = HatchMoved(d)
			say("that moved its %s", t.Short)
		} else {
			say("that moved its hatch by less than an hour or two")
		}
	}
	t.Lines = []string{strings.Join(t.Lines, "; ")}
	for _, w := range [...]*snapshot.DayWindow{c.Before, c.After} {
		if w == nil {
			continue
		}
		day := w.Day
		if d, err := time.Parse(time.DateOnly, w.Day); err == nil {
			day = d.Format("2 January")
		}
		say("window shown on %s: %s", day, r.Window(w.Window))
	}
	return t
}

// LeastMovedDays is the least shift of a hatch that is said, in days (our choice): an hour
// or two.
const LeastMovedDays = 0.05

// HatchMoved says by how many days a hatch moved: "hatch 0.4 d later".
func HatchMoved(days float64) string {
	switch {
	case days >= LeastMovedDays:
		return fmt.Sprintf("hatch %.1f d later", days)
	case days <= -LeastMovedDays:
		return fmt.Sprintf("hatch %.1f d earlier", -days)
	}
	return "hatch as it was"
}

// NoSurvival explains why an incident says nothing about survival.
const NoSurvival = "This cannot tell whether the eggs are alive: no study says how long eggs survive such temperatures."
