package thermal

import (
	"fmt"
	"math"
	"strings"
)

// TooColdReason is the reason of no window where it is too cold for a hatch.
const TooColdReason = "too cold to come to a hatch"

// LateReason is the reason of a window that is late.
const LateReason = "late: only one in twenty takes so long"

// AnyDayReason is the reason of a window without a likely day.
const AnyDayReason = "any day now, or not at all"

// because lists a window's reasons in plain words, without a unit of temperature.
// The first says what makes it wide, in days, the largest part first.
func (f *forecast) because(w *Window) []string {
	var out []string
	if w.Late {
		out = append(out, LateReason)
	}
	out = append(out, f.widthBecause(w.Why))
	switch {
	case w.Late:
	case w.Likely.IsZero() && f.o.now.Before(w.CheckFrom):
		out = append(out, "other eggs wait so long that a likely day would be past late-after")
	case w.Likely.IsZero():
		out = append(out, AnyDayReason)
	case f.hatched(0, false) > 0.05:
		out = append(out, "likely is given that it has not hatched yet")
	}
	past := f.since.plus(f.before)
	switch observed := math.Max(0, 1-past.missing/past.days); {
	case past.missing == 0:
	case observed > 0.99:
		out = append(out, "measured all the time but "+daysText(past.missing))
	default:
		out = append(out, fmt.Sprintf("measured %.0f %% of the time", math.Floor(100*observed)))
	}
	ends := f.o.belief.Tested
	coming := f.o.coming.after(1)
	warm, cold := "warmer than was ever tested", "colder than was ever tested"
	if ends.Warmest.Practice {
		warm = "warmer than is usual"
	}
	if ends.Coldest.Practice {
		cold = "colder than is usual"
	}
	if past.beyond > 0.5/24 {
		out = append(out, fmt.Sprintf("%s %s: counted as the warmest that was", daysText(past.beyond), warm))
	}
	if coming.beyond > 0 {
		out = append(out, "the zone is "+warm+": counted as the warmest that was")
	}
	if past.colder > 0.5/24 {
		out = append(out, daysText(past.colder)+" "+cold)
	}
	if coming.colder > 0 {
		out = append(out, "the zone is "+cold)
	}
	return out
}

// causeWords are how [Window.Because] says a cause.
func (f *forecast) causeWords(c Cause) string {
	switch c {
	case CauseKnown:
		return f.eggs.Known
	case CauseEggs:
		return "no two eggs alike"
	case CauseLaid:
		return "lay date known to " + daysText(f.layDays)
	case CauseGaps:
		return daysText(f.since.missing+f.before.missing) + " not measured"
	case CauseProbe:
		return "the probe's own error"
	case CauseBox:
		return "no probe in the box"
	}
	return "the temperature to come"
}

func (f *forecast) widthBecause(w Why) string {
	var words []string
	for _, p := range w.Parts {
		if p.Days >= 0.5 {
			words = append(words, fmt.Sprintf("%s (%.0f)", f.causeWords(p.Cause), p.Days))
		}
	}
	if len(words) == 0 {
		return fmt.Sprintf("%s wide", daysText(w.Days))
	}
	return fmt.Sprintf("%s wide: %s", daysText(w.Days), strings.Join(words, ", "))
}

// Known is the source of a belief, in plain words.
func (b Belief) Known() string {
	var from []string
	switch b.References {
	case 0:
		if b.Own == 0 {
			return "only its relatives are known"
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
