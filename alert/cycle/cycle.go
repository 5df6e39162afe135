package cycle

import (
	"math"
	"slices"
	"time"
)

// Cycle learns the cycle of a zone's thermostat from the zone's temperature, and notices when
// it stops on the way down. A turn is a highest or a lowest value from which the temperature
// came back by more than a threshold. Cycle tries several thresholds. It takes the largest under
// which the cycle is regular. The zero value is ready. Its size is fixed.
type Cycle struct {
	minute  int64 // the minute whose readings are summed, since the epoch
	sum     float64
	n       int
	last    point // the newest point; zero: none
	spacing float64
	recent  [recentPoints]point // a ring
	points  int
	swings  [len(thresholds)]swings
	usual   Learned
	by      int // which of the swings is regular, counted from 1; 0: none
}

// point is a mean value at a time.
type point struct {
	at int64 // Unix seconds
	v  float64
}

// How a cycle is looked for. All are our choice: TestDeadHeater and TestRunningHeater
// print what they are worth.
const (
	pointSeconds  = 60 // readings that are closer are averaged
	recentPoints  = 8
	keptCycles    = 12
	leastCycles   = 6
	maxPeriod     = 3 * 3600 // s
	minPeriod     = 6 * 60   // s
	leastPoints   = 4        // in a period
	periodScatter = 0.3      // by which a period may differ from the median, as a share of it
	turnScatter   = 0.35     // by which a turn may differ from the median, as a share of the swing
	swingRatio    = 1.4      // of a threshold, that a swing is at least: else it misses turns
	leastAlike    = 0.75     // of the cycles must be so
	holeSpacings  = 3.5      // a longer time without a point is a hole, in usual spacings
	holeSeconds   = 600      // and so long at least
	spacingWeight = 0.05
)

// thresholds are by how much a value must come back from a turn, K.
var thresholds = [...]float64{0.1, 0.15, 0.25, 0.4, 0.6, 1}

// swings are the turns of a value under one threshold.
type swings struct {
	rising  bool
	begun   bool
	extreme point // the furthest of this phase
	top     point // the last upper turn; zero: none since a hole
	bottom  point // the last lower turn; the same
	ring    [keptCycles]oneCycle
	n       int
}

// oneCycle goes from a lower turn through an upper turn to the next lower turn.
type oneCycle struct {
	period, fall float64 // s
	low, high    float64 // C
}

// Learned is the usual cycle of a thermostat.
type Learned struct {
	Period  time.Duration // median
	Fall    time.Duration // median time from the upper turn to the lower
	Falls   time.Duration // the longest usual fall
	Low     float64       // the lowest of the lower turns that are usual, C
	Scatter float64       // of the lower turns, K
	Swing   float64       // from turn to turn, median, K
	PerHour float64       // how fast it falls, median, K
}

// Observe takes a value in C and reports whether it completed a point. A value that is older than
// the last one counts as a hole.
func (c *Cycle) Observe(now time.Time, v float64) (added bool) {
	m := now.Unix() / pointSeconds
	if c.n > 0 && m != c.minute {
		added = true
		c.add(point{c.minute*pointSeconds + pointSeconds/2, c.sum / float64(c.n)})
		c.sum, c.n = 0, 0
	}
	c.minute, c.sum, c.n = m, c.sum+v, c.n+1
	return added
}

// Hole says that values are missing, so a turn may be missing too.
func (c *Cycle) Hole() {
	c.sum, c.n, c.points, c.last = 0, 0, 0, point{}
	for i := range c.swings {
		s := &c.swings[i]
		s.begun, s.top, s.bottom = false, point{}, point{}
	}
}

// Forget drops what was learned.
func (c *Cycle) Forget() {
	for i := range c.swings {
		c.swings[i].n = 0
	}
	c.usual, c.by = Learned{}, 0
}

// add takes a point.
func (c *Cycle) add(p point) {
	if c.last.at != 0 {
		gap := float64(p.at - c.last.at)
		if gap <= 0 || c.spacing > 0 && gap > max(holeSeconds, holeSpacings*c.spacing) {
			c.Hole()
		} else if c.spacing == 0 {
			c.spacing = gap
		} else {
			c.spacing += spacingWeight * (gap - c.spacing)
		}
	}
	c.last = p
	c.recent[c.points%recentPoints] = p
	c.points++
	learned := false
	for i := range c.swings {
		learned = c.swings[i].add(p, thresholds[i]) || learned
	}
	if learned {
		c.usual, c.by = c.learn()
	}
}

// add takes a point and reports whether it completes a cycle.
func (s *swings) add(p point, threshold float64) (whole bool) {
	switch {
	case !s.begun:
		s.begun, s.extreme, s.rising = true, p, true
	case s.rising && p.v >= s.extreme.v, !s.rising && p.v <= s.extreme.v:
		s.extreme = p
	case s.rising && p.v <= s.extreme.v-threshold:
		s.top, s.rising, s.extreme = s.extreme, false, p
	case !s.rising && p.v >= s.extreme.v+threshold:
		if was := s.bottom; was.at != 0 && s.top.at > was.at {
			s.ring[s.n%keptCycles] = oneCycle{
				period: float64(s.extreme.at - was.at), fall: float64(s.extreme.at - s.top.at),
				low: s.extreme.v, high: s.top.v,
			}
			s.n++
			whole = true
		}
		s.bottom, s.rising, s.extreme = s.extreme, true, p
	}
	return whole
}

// Learned gives the usual cycle; false where no cycle is evident, as in most rooms.
func (c *Cycle) Learned() (Learned, bool) { return c.usual, c.by > 0 }

// learn finds the largest threshold under which the cycle is regular.
func (c *Cycle) learn() (Learned, int) {
	for i := len(thresholds) - 1; i >= 0; i-- {
		if l, ok := c.swings[i].learned(max(minPeriod, leastPoints*c.spacing)); ok && l.Swing >= swingRatio*thresholds[i] {
			return l, i + 1
		}
	}
	return Learned{}, 0
}

// learned summarises the last cycles; false unless most are alike.
func (s *swings) learned(shortest float64) (Learned, bool) {
	n := min(s.n, keptCycles)
	if n < leastCycles {
		return Learned{}, false
	}
	of := func(f func(oneCycle) float64) float64 {
		var v [keptCycles]float64
		for i, x := range s.ring[:n] {
			v[i] = f(x)
		}
		return median(v[:n])
	}
	period := of(func(x oneCycle) float64 { return x.period })
	if period < shortest || period > maxPeriod {
		return Learned{}, false
	}
	low := of(func(x oneCycle) float64 { return x.low })
	swing := of(func(x oneCycle) float64 { return x.high - x.low })
	l := Learned{Period: seconds(period), Fall: seconds(of(func(x oneCycle) float64 { return x.fall })), Low: math.Inf(1), Swing: swing}
	l.PerHour = of(func(x oneCycle) float64 { return (x.high - x.low) / max(x.fall, pointSeconds) * 3600 })
	l.Scatter = madPerSD * of(func(x oneCycle) float64 { return math.Abs(x.low - low) })
	alike, longest := 0, 0.0
	for _, x := range s.ring[:n] {
		if math.Abs(x.period-period) > periodScatter*period || math.Abs(x.low-low) > turnScatter*swing || math.Abs(x.high-x.low-swing) > turnScatter*swing {
			continue
		}
		alike++
		longest, l.Low = max(longest, x.fall), min(l.Low, x.low)
	}
	l.Falls = seconds(longest)
	return l, float64(alike) >= leastAlike*float64(n)
}

// madPerSD is a normal distribution's standard deviation by its median absolute deviation
// (Hampel 1974, J Am Stat Assoc 69:383).
const madPerSD = 1.4826

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// median is the middle value; it sorts v, which is not empty.
func median(v []float64) float64 {
	slices.Sort(v)
	return (v[(len(v)-1)/2] + v[len(v)/2]) / 2
}
