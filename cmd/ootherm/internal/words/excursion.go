package words

import (
	"fmt"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Limits of what is said of excursions. Both are our choice.
const (
	// smallExcursion is how far past a wanted limit, in kelvin, an excursion is left out. The
	// usual parts are accurate to 0.2 to 0.5 K (from memory).
	smallExcursion = 0.3
	mostCounted    = 20 // more excursions than this are noise at the limit, and are not counted
)

// Excursions formats what a clutch felt beyond the ends of bands. Small excursions past what
// is wanted are left out, and a last line says so.
func (r Reader) Excursions(all []snapshot.Outside) (lines []string) {
	left := false
	for _, o := range all {
		if o.Band != "safe" && o.Most < smallExcursion {
			left = true
			continue
		}
		lines = append(lines, excursion(r, o))
	}
	if left {
		lines = append(lines, "less than "+r.Difference(smallExcursion)+" past what is wanted: not listed")
	}
	return lines
}

// excursion formats what a clutch felt beyond one end of a band: "warmer than the safe 80.0
// °F: 3 h 10 min in all, 2 times, longest 2 h, highest 81.2 °F; when 40 to 50 % developed".
func excursion(r Reader, o snapshot.Outside) string {
	side, peak := "warmer", "highest "+r.Temperature(o.Limit+o.Most)
	if o.Side == "cold" {
		side, peak = "colder", "lowest "+r.Temperature(o.Limit-o.Most)
	}
	sum := fmt.Sprintf("%s than the %s %s: %s", side, o.Band, r.Temperature(o.Limit), Span(Seconds(o.Seconds)))
	switch longest := ", longest " + Span(Seconds(o.LongestSeconds)); {
	case o.Events > mostCounted:
		sum += " in all" + longest
	case o.Events > 1:
		sum += fmt.Sprintf(" in all, %d times", o.Events) + longest
	default:
		sum += " at one stretch"
	}
	if o.Most*r.scale() >= 0.05 { // less shows as the limit itself
		sum += ", " + peak
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
		sum += "; when " + strings.Join(when, " and ") + " % developed"
	}
	return sum
}
