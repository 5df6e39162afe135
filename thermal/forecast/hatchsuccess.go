package forecast

import (
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// success is the share of squamate eggs that hatch at constant temperatures: pooled from
// the durations table (Noble et al. 2018, Scientific Data 5:180138). Other orders take the
// same (our choice).
var success = [...]struct{ celsius, share float64 }{{18, 0.40}, {22, 0.80}, {24, 0.74}, {30, 0.74}, {32, 0.63}, {34, 0.57}}

// hatchSuccess is the share that hatches at a mean temperature, Celsius.
func hatchSuccess(celsius float64) float64 {
	last := success[0]
	if !(celsius > last.celsius) {
		return last.share
	}
	for _, x := range success[1:] {
		if celsius <= x.celsius {
			return last.share + (celsius-last.celsius)/(x.celsius-last.celsius)*(x.share-last.share)
		}
		last = x
	}
	return last.share
}

// successTrust is how many eggs of a clutch the published hatch success is worth (our
// choice).
const successTrust = 4.0

// fates are how many eggs of a clutch hatched and died.
type fates struct{ live, dead float64 }

// fatesOf counts the eggs of each clutch. Eggs that were never fertile are none.
func fatesOf(groups []*track.Group) map[string]fates {
	all := map[string]fates{}
	for _, g := range groups {
		x := all[g.Clutch]
		for _, e := range g.Eggs {
			switch {
			case e.Fate == book.Hatched:
				x.live++
			case e.Fate == book.Lost && !barren(e):
				x.dead++
			}
		}
		all[g.Clutch] = x
	}
	return all
}

// barren reports that an egg was never fertile.
func barren(e book.Egg) bool { return e.Verdict == book.Infertile || e.Verdict == book.Slug }
