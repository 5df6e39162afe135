package thermal

import (
	"fmt"
	"math"
	"strings"
)

// TooColdReason is the reason of no window where it is too cold for a hatch.
const TooColdReason = "too cold to come to a hatch"

// LateReason is the reason of a window that is late.
const LateReason = "late: hardly one in forty takes so long"

// because lists a window's reasons in plain words, without a unit of temperature.
// The first says what makes it wide, in days, the largest part first.
func (f *forecast) because(low, likely, high float64) []string {
	var out []string
	switch hatched := f.hatched(0, normal); {
	case high == 0:
		out = append(out, LateReason)
	case hatched > 0.05:
		out = append(out, f.widthBecause(high-low, likely), "given that it has not hatched yet")
	default:
		out = append(out, f.widthBecause(high-low, likely))
	}
	past := f.since.plus(f.before)
	switch observed := math.Max(0, 1-past.missing/past.days); {
	case past.missing == 0:
	case observed > 0.99:
		out = append(out, "measured all the time but "+daysText(past.missing))
	default:
		out = append(out, fmt.Sprintf("measured %.0f %% of the time", math.Floor(100*observed)))
	}
	if past.beyond > 0.5/24 {
		out = append(out, fmt.Sprintf("%s warmer than was ever tested: counted as the warmest that was", daysText(past.beyond)))
	}
	if coming := f.o.coming.after(1); coming.beyond > 0 {
		out = append(out, "the zone is warmer than was ever tested: counted as the warmest that was")
	}
	return out
}

// causeWords are how [Window.Because] says a cause.
func (f *forecast) causeWords(c Cause) string {
	switch c {
	case CauseKnown:
		return f.o.belief.known()
	case CauseEggs:
		return "no two eggs alike"
	case CauseLaid:
		return "lay date known to " + daysText(f.layDays)
	case CauseGaps:
		return daysText(f.since.missing+f.before.missing) + " not measured"
	case CauseProbe:
		return "the probe's own error"
	}
	return "the temperature to come"
}

func (f *forecast) widthBecause(width, likely float64) string {
	var words []string
	for _, p := range f.why(width, likely).Parts {
		if p.Days >= 0.5 {
			words = append(words, fmt.Sprintf("%s (%.0f)", f.causeWords(p.Cause), p.Days))
		}
	}
	if len(words) == 0 {
		return fmt.Sprintf("%s wide", daysText(width))
	}
	return fmt.Sprintf("%s wide: %s", daysText(width), strings.Join(words, ", "))
}

// known is the source of a belief, in plain words.
func (b Belief) known() string {
	var from []string
	switch b.References {
	case 0:
		if b.Own == 0 {
			return "only its family is known"
		}
	case 1:
		from = append(from, "one reference")
	default:
		from = append(from, fmt.Sprintf("%d references", b.References))
	}
	switch b.Own {
	case 0:
	case 1:
		from = append(from, "one own hatch")
	default:
		from = append(from, fmt.Sprintf("%d own hatches", b.Own))
	}
	return strings.Join(from, " and ")
}

// daysText is a span in days, or in hours when it is short.
func daysText(days float64) string {
	switch hours := math.Round(days * 24); {
	case days >= 1.5:
		return fmt.Sprintf("%.0f days", days)
	case hours > 20:
		return "a day"
	case hours > 1:
		return fmt.Sprintf("%.0f hours", hours)
	default:
		return "an hour"
	}
}
