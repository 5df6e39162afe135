package station

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/sensor"
)

// Disagrees is the cause told of a probe whose readings are in good order and too
// far from those of its neighbours in the zone. It is left out of the zone's
// temperature; of two that disagree both are, since nobody can tell which is
// wrong. A box that the probe is buried in goes on feeling it, and alarms go by
// it: it may be the one beside the trouble.
const Disagrees sensor.Cause = "disagrees"

// agreeAgain is how many readings in a row must agree before a probe counts
// again; it is that of the probe's own screen.
const agreeAgain = 3

// company is how one probe of a zone stands beside the others.
type company struct {
	odd    bool
	agreed int // readings in a row since
}

// judge holds the probes that were read at a time against their neighbours' last.
func (f *felt) judge(at time.Time) {
	if len(f.probes) < 2 {
		return
	}
	for i, s := range f.last {
		f.present[i] = math.NaN()
		if !math.IsNaN(s.Celsius) && at.Sub(s.At) <= f.fresh {
			f.present[i] = s.Celsius
		}
	}
	odd := sensor.Odd(f.present, sensor.Apart)
	for i, s := range f.last {
		if !s.At.Equal(at) {
			continue // not read now: it stands as it stood
		}
		switch c := &f.company[i]; {
		case slices.Contains(odd, i):
			c.odd, c.agreed = true, 0
		case c.odd:
			c.agreed++
			c.odd = c.agreed < agreeAgain
		}
	}
}

// disagrees reports whether a probe is left out just now.
func (f *felt) disagrees(probe string) bool {
	for i, p := range f.probes {
		if p == probe {
			return f.company[i].odd
		}
	}
	return false
}
