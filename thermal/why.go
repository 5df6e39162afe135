package thermal

import (
	"cmp"
	"slices"
)

// Cause is a cause of a window's width.
type Cause string

// The causes. They are published.
const (
	CauseEggs    Cause = "eggs"    // eggs of one clutch differ
	CauseProbe   Cause = "probe"   // the probe's error
	CauseLaid    Cause = "laid"    // the lay date is known to an interval
	CauseClimate Cause = "climate" // the temperature to come
	CauseKnown   Cause = "known"   // what is known of the species, the house and the dam
	CauseGaps    Cause = "gaps"    // time that was not measured
)

// Part is how many days of a window's width have one cause.
type Part struct {
	Cause Cause
	Days  float64
}

// Why is the width of a window by its causes. The days of its parts add up to the width.
type Why struct {
	Days  float64 // from check-from to late-after
	Parts []Part  // the largest first
	// Remedy is the one thing that a person can do that narrows the window most; its
	// Days is by how much. Its Cause is empty where nothing helps by half a day.
	Remedy Part
}

// why splits a width of so many days by the share that each cause has in the variance at
// the likely day.
func (f *forecast) why(width, likely float64) Why {
	v := f.variances(0.5, f.o.coming.after(likely))
	all := f.since.plus(f.before.times(0.5)).plus(f.o.coming.after(likely))
	lay := f.before.worth.days / all.worth.days
	v.lay = lay * lay / 12
	parts := []Part{
		{CauseKnown, v.belief}, {CauseEggs, v.egg}, {CauseLaid, v.lay},
		{CauseGaps, v.gap}, {CauseProbe, v.probe}, {CauseClimate, v.climate},
	}
	var sum float64
	for _, p := range parts {
		sum += p.Days
	}
	for i := range parts {
		parts[i].Days *= width / sum
	}
	slices.SortStableFunc(parts, func(a, b Part) int { return cmp.Compare(b.Days, a.Days) })
	return Why{Days: width, Parts: parts}
}
