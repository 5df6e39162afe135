package words

import (
	"fmt"
	"math"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// RehearsedText describes what came of the failures at one limit.
type RehearsedText struct {
	Name  string // which limit
	Short string // the answer; empty where no failure reaches it
	Lines []string
}

// Rehearsal describes a rehearsal to a reader. Its times are as seen from At.
type Rehearsal struct {
	Reader
	At time.Time
}

// Span is the past that failures were laid over.
func (r Rehearsal) Span(x snapshot.Rehearsal) string {
	if !x.From.Before(x.To) {
		return "There are no readings yet to try heater failures on."
	}
	return "Heater failures were tried on the readings from " + r.Between(x.From, x.To, r.At) + " (" + Span(x.To.Sub(x.From)) + ")."
}

// Learning says until when there is no early warning; empty where there is one.
func (r Rehearsal) Learning(until *time.Time) string {
	if until == nil {
		return ""
	}
	return "The early warning still learns: it begins " + OnOrAt(r.Reader, *until, r.At) + " at the earliest."
}

// Laid is what was laid over the past.
func (r Rehearsal) Laid() string {
	return fmt.Sprintf("Each failure begins at a random time and moves the temperature by %s to %s, two thirds of that within 1 to 8 hours.", r.Difference(4), r.Difference(10))
}

// RehearsalNotes are what a rehearsal does not show.
func RehearsalNotes() []string {
	return []string{
		"This counts the early warning alone. The alarm of the limit itself comes in any case, after its delay.",
		"Failures that take over a day to reach the limit are left out.",
		"A message also has to arrive: try each way with ootherm check --send NAME.",
	}
}

// minRateDays is how many days make a figure for a month (our choice).
const minRateDays = 14

// Limit describes what came of the failures at one limit.
func (r Rehearsal) Limit(x snapshot.RehearsedLimit) RehearsedText {
	what, name := "dead heaters", "Colder"
	if x.Side == "warm" {
		what, name = "heaters that stay on", "Warmer"
	}
	t := RehearsedText{Name: fmt.Sprintf("%s than the %s %s", name, x.Band, r.Temperature(x.Limit))}
	switch {
	case x.Days == 0:
		t.Lines = append(t.Lines, "nothing is learned yet")
		return t
	case x.Failures == 0:
		t.Lines = append(t.Lines, fmt.Sprintf("no failure of up to %s reaches this limit within a day", r.Difference(10)))
	default:
		t.Short = fmt.Sprintf("It would have warned of %d of %d %s", x.Called, x.Failures, what)
		if x.Lead != nil {
			t.Short += ", of half of these at least " + Span(Seconds(*x.Lead)) + " before the limit"
		}
	}
	calls, passed := "no false warning", "never passed this limit"
	if x.FalseCalls > 0 {
		calls = Count(often(x.FalseCalls, x.Days), "false warning", "false warnings")
	}
	if x.Passed > 0 {
		passed = "passed this limit " + Count(often(x.Passed, x.Days), "time", "times")
	}
	t.Lines = append(t.Lines, calls+in(x.FalseCalls, x.Days), "the readings themselves "+passed+in(x.Passed, x.Days))
	return t
}

// often is how often something was in a month, or in all days where these are few.
func often(n int, days float64) int {
	if days < minRateDays {
		return n
	}
	return max(1, int(math.Round(float64(n)*30/days)))
}

// in is the time in which something was as often as that.
func in(n int, days float64) string {
	if n > 0 && days >= minRateDays {
		return " a month"
	}
	return " in " + Count(int(math.Ceil(days)), "day", "days")
}
