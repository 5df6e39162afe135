package notice

import (
	"fmt"
	"math"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// ended is the message of an alarm that is over, or whose limit is no longer set.
func (c *composer) ended(t episode.Told) (subject, body string) {
	e, said := t.Event, words.Alarm(string(t.Key.Kind))
	switch {
	case e.Gone:
		subject, body = c.retired(e, said)
	case e.Key.Kind == alert.SwitchedOff:
		subject, body = c.safeAgain(e)
	case textOf(e.Key.Kind).drift:
		subject = words.Subject(words.Fine, c.place(e.Key), "no longer "+said.Wrong)
		body = stageText{c}.driftOver(e)
	default:
		subject, body = c.over(e, said)
	}
	if eggs := c.eggsAtRisk(e.Key.Zone); eggs != "" {
		body += eggs + "\n"
	}
	if e.Gone {
		body += "First: See that it is as you meant it.\n"
	}
	return subject, subject + "\n" + body
}

// over tells of an alarm's end: what it came to, and what it did to the windows.
func (c *composer) over(e alert.Event, said words.AlarmText) (subject, body string) {
	worst, old, still := textOf(e.Key.Kind).worst, c.newLimitEnds(e), c.stillWarned(e.Key)
	switch {
	case still != nil:
		subject = words.Subject(said.Shape, c.place(e.Key), "safe again "+c.r.Clock(e.At)+", still "+said.Wrong)
	case old != nil:
		subject = words.Subject(words.Fine, c.place(e.Key), "within its new limit "+c.r.Clock(e.At))
	default:
		subject = words.Subject(words.Fine, c.place(e.Key), "back in order "+c.r.Clock(e.At))
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%s from %s, for %s", words.Was(string(e.Key.Kind)), c.r.When(e.Began, e.At), words.Span(e.At.Sub(e.Began)))
	if peak := c.value(said, e.Peak); peak != "" && worst != "" {
		fmt.Fprintf(&b, ", %s %s", strings.ToLower(worst), peak)
	}
	if by := c.Alarms[e.Key].HatchMoved; by != nil {
		b.WriteString("; " + hatchMoved(*by))
	}
	b.WriteString(".")
	if value := c.value(said, e.Value); value != "" && worst != "" {
		fmt.Fprintf(&b, " Now %s.", value)
	}
	b.WriteString("\n")
	if old != nil {
		fmt.Fprintf(&b, "The limit was changed from %s to %s meanwhile; by the one before it would still stand.\n",
			c.value(said, old.At), c.value(said, e.Limit))
	}
	if still != nil {
		fmt.Fprintf(&b, "It was past the safe %s; the wanted %s is not reached yet.\n", c.r.Temperature(e.Limit), c.r.Temperature(still.Limit.At))
	}
	return subject, b.String()
}

// newLimitEnds is the limit that an alarm was raised by, where only a new limit ends it; nil
// where the value is back.
func (c *composer) newLimitEnds(e alert.Event) *alert.Limit {
	old := c.Alarms[e.Key].RaisedBy
	if old == nil || math.IsNaN(e.Value) || old.Back(e.Value) || e.Key.Kind.Unit() == alert.Seconds {
		return nil
	}
	return old
}

// stillWarned is the warning that stands on where a safe limit's alarm ended; nil where none
// does.
func (c *composer) stillWarned(k alert.Key) *Alarm {
	if k.Priority != alert.Critical || k.Kind != alert.TemperatureHigh && k.Kind != alert.TemperatureLow {
		return nil
	}
	k.Priority = alert.Warning
	if x, ok := c.Alarms[k]; ok && x.True {
		return &x
	}
	return nil
}

// hatchMoved says what an excursion did to the hatch of the eggs that felt it.
func hatchMoved(by Moved) string {
	least, most := words.HatchMoved(by.LeastDays), words.HatchMoved(by.MostDays)
	switch {
	case least == most:
		return least
	case by.LeastDays >= words.LeastMovedDays:
		return fmt.Sprintf("hatch %.1f to %.1f d later", by.LeastDays, by.MostDays)
	case by.MostDays <= -words.LeastMovedDays:
		return fmt.Sprintf("hatch %.1f to %.1f d earlier", -by.MostDays, -by.LeastDays)
	}
	return least + " to " + strings.TrimPrefix(most, "hatch ")
}

func retiredHeadline(place string, said words.AlarmText) string {
	return words.Subject(words.Other, place, said.Wrong+": no longer watched")
}

// retired tells of an alarm that stood when its limit went: whether what it told of is over
// is not known.
func (c *composer) retired(e alert.Event, said words.AlarmText) (subject, body string) {
	subject = retiredHeadline(c.place(e.Key), said)
	var b strings.Builder
	why := c.Alarms[e.Key].GoneWhy
	fmt.Fprintf(&b, "%s from %s", words.Was(string(e.Key.Kind)), c.r.When(e.Began, e.At))
	if why != GoneBeforeStart { // what it came to before a start is not kept
		fmt.Fprintf(&b, ", for %s", words.Span(e.At.Sub(e.Began)))
		worst := textOf(e.Key.Kind).worst
		if peak := c.value(said, e.Peak); peak != "" && worst != "" {
			fmt.Fprintf(&b, ", %s %s; the last was %s", strings.ToLower(worst), peak, c.value(said, e.Value))
		}
	}
	what := "it is no longer watched"
	if said.Quantity == words.Temperature || said.Quantity == words.Humidity {
		what = "the limit of " + c.value(said, e.Limit) + " is no longer set"
	}
	fmt.Fprintf(&b, ".\nThis is no return to order: %s, %s.\n", what, why)
	return subject, b.String()
}
