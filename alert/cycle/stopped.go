package cycle

import "time"

// When a cycle has stopped. All are our choice.
const (
	lateRatio      = 1.25 // of the longest fall, and two points more
	latePoints     = 2
	belowSwings    = 0.25 // below the lowest turn, as a share of the swing
	belowScatters  = 3.0  // the same in scatters of the lower turns
	belowKelvin    = 0.1  // the same in K, at least: the step of many probes
	farSwings      = 0.75 // so far below the lowest turn it need not be late
	fastestFall    = 1.6  // of the usual: what falls faster is a door
	slowestFall    = 0.25 // of the usual: what falls slower levels off
	recentFallTime = 0.35 // of the longest fall: over so long it is seen how fast it falls now
	stepKelvin     = 0.1  // by which two points may differ besides: the step of many probes
)

// Stop is a cycle that has stopped on the way down.
type Stop struct {
	Since   time.Duration // since the last turn downward
	Usual   time.Duration // median time from there to the turn upward
	PerHour float64       // how fast it falls now, K
	Below   float64       // how far it is below the lowest usual turn, K
}

// Stopped reports whether the temperature falls on where it always turned.
func (c *Cycle) Stopped() (Stop, bool) {
	if c.by == 0 {
		return Stop{}, false
	}
	s, l := &c.swings[c.by-1], &c.usual
	if s.rising || s.top.at == 0 || c.last.v > s.extreme.v {
		return Stop{}, false
	}
	since := float64(c.last.at - s.top.at)
	x := Stop{Since: seconds(since), Usual: l.Fall, PerHour: c.fallsPerHour(), Below: l.Low - c.last.v}
	whole := min(1, (s.top.v-l.Low)/l.Swing) // where the heater died on the way up, the fall is shorter
	late := since > lateRatio*whole*l.Falls.Seconds()+latePoints*c.spacing
	switch {
	case x.Below < max(belowSwings*l.Swing, belowScatters*l.Scatter, belowKelvin):
		return Stop{}, false
	case !late && x.Below < farSwings*l.Swing:
		return Stop{}, false
	case (s.top.v-c.last.v)/since*3600 > fastestFall*l.PerHour, x.PerHour > fastestFall*l.PerHour, x.PerHour < slowestFall*l.PerHour:
		return Stop{}, false
	case c.stepped():
		return Stop{}, false
	}
	return x, true
}

// stepped reports whether one of the last points is further from the one before it than a fall
// takes: a door does so.
func (c *Cycle) stepped() bool {
	for i := range min(c.points, recentPoints) - 1 {
		p, q := c.recent[(c.points-2-i)%recentPoints], c.recent[(c.points-1-i)%recentPoints]
		if p.v-q.v > fastestFall*c.usual.PerHour*float64(q.at-p.at)/3600+stepKelvin {
			return true
		}
	}
	return false
}

// fallsPerHour is how fast it falls now, K.
func (c *Cycle) fallsPerHour() float64 {
	const fewest = 2
	long := recentFallTime * c.usual.Falls.Seconds()
	for i := fewest; i < min(c.points, recentPoints); i++ {
		p := c.recent[(c.points-1-i)%recentPoints]
		if span := float64(c.last.at - p.at); span >= long || i == min(c.points, recentPoints)-1 {
			return (p.v - c.last.v) / span * 3600
		}
	}
	return 0
}

// TurnsUp reports whether the temperature rises, or no cycle is known.
func (c *Cycle) TurnsUp() bool { return c.by == 0 || c.swings[c.by-1].rising }

// Spacing is the usual time between two points.
func (c *Cycle) Spacing() time.Duration { return seconds(c.spacing) }
