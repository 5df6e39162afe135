package station

import (
	"fmt"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

func goneHeadline(place string, said words.AlarmText) string {
	return words.Headline(words.Other, place, said.Wrong+": no longer watched")
}

// gone tells of an alarm that stood when its limit went: nobody will say whether what
// it told of is over.
func (s *Station) gone(e alert.Event, said words.AlarmText) (subject, body string) {
	r := s.reader()
	subject = goneHeadline(s.place(e.Key), said)
	var b strings.Builder
	why := s.panel.Ended(e.Key)
	fmt.Fprintf(&b, "%s\n%s from %s", subject, words.Was(string(e.Key.Kind)), r.When(e.Began, e.At))
	if why != whyPlan { // what it came to before a start is not kept
		fmt.Fprintf(&b, ", for %s", words.Span(e.At.Sub(e.Began)))
		if peak := r.Value(said.Quantity, snapshot.OptFloat(e.Peak)); peak != "" && peaks(e.Key.Kind) {
			fmt.Fprintf(&b, ", %s %s; the last was %s", strings.ToLower(worst(e)), peak, r.Value(said.Quantity, snapshot.OptFloat(e.Value)))
		}
	}
	what := "it is no longer watched"
	if said.Quantity == words.Temperature || said.Quantity == words.Humidity {
		what = "the limit of " + r.Value(said.Quantity, snapshot.OptFloat(e.Limit)) + " is no longer set"
	}
	fmt.Fprintf(&b, ".\nThis is no return to order: %s, %s.\n", what, why)
	if stake := s.stake(e.Key.Zone); stake != "" {
		b.WriteString(stake + "\n")
	}
	b.WriteString("First: See that it is as you meant it.\n")
	return subject, b.String()
}
