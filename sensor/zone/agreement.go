package zone

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/sensor"
)

// Disagrees is the cause of a probe whose readings are in good order and too far from
// those of its neighbours in the zone. The probe is left out of the zone's temperature. Of
// two probes that disagree both are left out, because either may be the wrong one. A box
// that the probe is buried in still uses it, and so do the alarms: it may be the one
// beside the trouble.
const Disagrees sensor.Cause = "disagrees"

// agreeingReadings is how many readings in a row must agree before a probe counts again.
// It is the same number as in the probe's own screen.
const agreeingReadings = 3

// agreement is how one probe of a zone compares with the others.
type agreement struct {
	odd    bool
	agreed int // readings in a row since then
}

// updateAgreement compares the probes that were read at a time with the last samples of
// their neighbours. A probe that was not read then keeps its state.
func (z *Zone) updateAgreement(at time.Time) {
	if len(z.probes) < 2 || z.apart <= 0 {
		return
	}
	now := at.UnixNano()
	for i := range z.last {
		z.current[i] = math.NaN()
		if z.fresh(i, now) {
			z.current[i] = z.last[i].celsius
		}
	}
	odd := outliers(z.current, z.apart)
	for i, s := range z.last {
		if !s.seen || s.at != now {
			continue
		}
		switch a := &z.agreement[i]; {
		case slices.Contains(odd, i):
			a.odd, a.agreed = true, 0
		case a.odd:
			a.agreed++
			a.odd = a.agreed < agreeingReadings
		}
	}
}

// outliers gives the indices of the temperatures that are further than limit, in kelvin, from
// the median of all: one of three that is wrong throws out no other. Where the two in the middle
// are further apart than that, neither half outvotes the other, and all are given: so are two
// that disagree. A NaN is neither compared nor counted.
func outliers(celsius []float64, limit float64) []int {
	low, high := math.Inf(1), math.Inf(-1)
	for _, c := range celsius {
		if !math.IsNaN(c) {
			low, high = min(low, c), max(high, c)
		}
	}
	if !(high-low > limit) {
		return nil // so is each from the median
	}
	sorted := slices.DeleteFunc(slices.Sorted(slices.Values(celsius)), math.IsNaN)
	n, middle := len(sorted), Median(sorted)
	halved := sorted[n/2]-sorted[(n-1)/2] > limit
	var odd []int
	for i, c := range celsius {
		if halved && !math.IsNaN(c) || math.Abs(c-middle) > limit { // never of a NaN
			odd = append(odd, i)
		}
	}
	return odd
}
