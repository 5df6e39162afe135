package app

import (
	"math"
	"slices"

	"example.com/ootherm/sensor"
)

// Disagrees is the cause of a reading that its own probe gave in good order and
// that is too far from those of its neighbours in the zone. It is not averaged
// in. Of two probes that disagree neither is: nobody can tell which is wrong.
const Disagrees sensor.Cause = "disagrees"

// agreeAgain is how many readings in a row must agree before a probe is believed
// again; it is that of the probe's own screen.
const agreeAgain = 3

// company is how a probe stands beside its neighbours.
type company struct {
	celsius float64 // the last that its own screen let pass, corrected
	stamp   sensor.Stamp
	known   bool
	odd     bool
	agreed  int // readings in a row since
}

// compare holds the readings of one instant, each passed by its own screen,
// against the neighbours' last.
func (s *Station) compare(readings []sensor.Reading) {
	now := readings[0].Stamp
	for _, r := range readings {
		c := &s.probes[r.Probe].company
		if c.known = r.Believed() && !math.IsNaN(r.Celsius); c.known {
			c.celsius, c.stamp = s.corrections.Load().celsius(r.Probe, s.at(now), r.Celsius), now
		}
	}
	for _, z := range s.zones {
		if len(z.probes) < 2 || !slices.ContainsFunc(readings, func(r sensor.Reading) bool { return slices.Contains(z.plan.Probes, r.Probe) }) {
			continue
		}
		celsius := make([]float64, len(z.probes))
		for i, p := range z.probes {
			celsius[i] = math.NaN()
			if c := p.company; c.known && c.stamp.Boot == now.Boot && now.Uptime-c.stamp.Uptime <= s.plan.fresh() {
				celsius[i] = c.celsius
			}
		}
		odd := make([]bool, len(z.probes))
		for _, i := range sensor.Odd(celsius, sensor.Apart) {
			odd[i] = true
		}
		for i, p := range z.probes {
			for j := range readings {
				if r := &readings[j]; r.Probe == p.name && p.company.known && !p.company.agrees(odd[i]) {
					r.Cause = Disagrees
				}
			}
		}
	}
}

// agrees takes whether the next reading is odd, and reports whether it is
// believed.
func (c *company) agrees(odd bool) bool {
	switch {
	case odd:
		c.odd, c.agreed = true, 0
	case c.odd:
		c.agreed++
		c.odd = c.agreed < agreeAgain
	}
	return !c.odd
}
