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

// How far apart, in kelvin, two probes of one zone may be. Four probes of one published
// recording of a room were 0.8 K apart in the median and 3.6 K at worst. A zone's own
// limit for the alarm, the key apart, is 3 K unless the configuration says otherwise.
const (
	// MaxApart is the distance from the median of its neighbours beyond which a probe is
	// left out (our choice: the worst of the recording, and a margin).
	MaxApart = 4.0
	// AgreesWithin is the distance up to which a message says that a second probe agrees
	// (our choice: twice the median of the recording).
	AgreesWithin = 1.6
)

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
	if len(z.probes) < 2 {
		return
	}
	now := at.UnixNano()
	for i := range z.last {
		z.current[i] = math.NaN()
		if z.fresh(i, now) {
			z.current[i] = z.last[i].celsius
		}
	}
	odd := outliers(z.current, MaxApart)
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

// outliers gives the indices of the temperatures that are further than limit, in kelvin,
// from the median of all the others. Of two that disagree both are given. A NaN is neither
// compared nor counted.
func outliers(celsius []float64, limit float64) []int {
	low, high := math.Inf(1), math.Inf(-1)
	for _, c := range celsius {
		if !math.IsNaN(c) {
			low, high = min(low, c), max(high, c)
		}
	}
	if high-low <= limit {
		return nil // so is each from every median
	}
	var odd []int
	for i, c := range celsius {
		var others []float64
		for j, o := range celsius {
			if j != i && !math.IsNaN(o) {
				others = append(others, o)
			}
		}
		if len(others) == 0 {
			continue
		}
		slices.Sort(others)
		if math.Abs(c-Median(others)) > limit { // never of a NaN
			odd = append(odd, i)
		}
	}
	return odd
}
