package thermal

import (
	"cmp"
	"math"
	"slices"
)

// Cause is a cause of a window's width.
type Cause string

// The causes. They are published.
const (
	CauseEggs    Cause = "eggs"    // eggs of one clutch differ
	CauseProbe   Cause = "probe"   // the probe's error
	CauseBox     Cause = "box"     // the box has no probe of its own
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
	// Remedy is the one thing that a person can do that narrows the window most: a probe
	// in the box, a calibration of the probe, or a steadier climate. Its Days is by how
	// much. Its Cause is empty where nothing narrows it by half a day.
	Remedy Part
}

// What is left of a cause's variance once a person has seen to it: a calibrated probe is
// known to a third of 0.3 K, and a steadier climate to half of its spread. Our choice.
var remedies = []struct {
	cause Cause
	left  float64
}{{CauseBox, 0}, {CauseProbe, 1.0 / 9}, {CauseClimate, 1.0 / 4}}

// why splits a width of so many days by the share that each cause has in the variance at
// the middle day.
func (f *forecast) why(width, middle float64) Why {
	p := f.point(middle)
	var known, eggs, probe, unlearned float64
	for i := range f.eggs.Open {
		n := &f.eggs.Open[i]
		_, v := f.off(&p, n)
		known += n.Weight * v
		eggs += n.Weight * n.Egg * n.Egg
		unlearned += n.Weight * n.Unlearned
		// What has been learned of probe and level together counts to neither twice.
		for j := 3; j < len(p.row); j++ {
			for k := range p.row {
				probe += n.Weight * p.row[j] * p.row[k] * n.Covariance[j][k]
			}
		}
	}
	probe = math.Max(0, probe)
	lay, gaps, box := unlearned*f.eggs.Lay, unlearned*f.eggs.Gaps, unlearned*f.eggs.Box
	known = math.Max(0, known-probe-lay-gaps-box)
	parts := []Part{
		{CauseKnown, known}, {CauseEggs, eggs}, {CauseLaid, lay}, {CauseGaps, gaps},
		{CauseProbe, probe}, {CauseBox, box}, {CauseClimate, p.climate},
	}
	var sum float64
	for _, p := range parts {
		sum += p.Days
	}
	w := Why{Days: width}
	for _, r := range remedies {
		at := slices.IndexFunc(parts, func(p Part) bool { return p.Cause == r.cause })
		less := width * (1 - math.Sqrt(1-parts[at].Days/sum*(1-r.left)))
		if less >= 0.5 && less > w.Remedy.Days {
			w.Remedy = Part{r.cause, less}
		}
	}
	for i := range parts {
		parts[i].Days *= width / sum
	}
	slices.SortStableFunc(parts, func(a, b Part) int { return cmp.Compare(b.Days, a.Days) })
	w.Parts = parts
	return w
}
