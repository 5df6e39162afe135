package words

import (
	"fmt"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Outside formats what a clutch felt beyond one end of a band: "warmer than the safe 80.0
// °F: 3 h 10 min in all, longest 2 h, at most 1.2 °F past it; when 40 to 50 % of the way".
func (r Reader) Outside(o snapshot.Outside) string {
	side := "warmer"
	if o.Side == "cold" {
		side = "colder"
	}
	sum := fmt.Sprintf("%s than the %s %s: %s", side, o.Band, r.Temperature(o.Limit), Span(Seconds(o.Seconds)))
	if o.Events > 1 {
		sum += fmt.Sprintf(" in all, %d times, longest %s", o.Events, Span(Seconds(o.LongestSeconds)))
	} else {
		sum += " at one stretch"
	}
	if o.Most*r.scale() >= 0.05 { // less would show as zero
		sum += ", at most " + r.Difference(o.Most) + " past it"
	}
	var when []string
	for i := 0; i < len(o.Stages); i++ { // neighbouring tenths are joined
		from, to := o.Stages[i].From, o.Stages[i].To
		for i+1 < len(o.Stages) && o.Stages[i+1].From-to < 0.01 {
			i++
			to = o.Stages[i].To
		}
		when = append(when, fmt.Sprintf("%.0f to %.0f", 100*from, 100*to))
	}
	if len(when) > 0 {
		sum += "; when " + strings.Join(when, " and ") + " % of the way"
	}
	return sum
}
