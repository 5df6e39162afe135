package alert

import (
	"math"
	"slices"
	"time"
)

// driftCall is what is foretold of one limit, and until when.
type driftCall struct {
	limit  Limit
	call   Projection
	active bool
	from   float64 // the value when it was last foretold, as the values are kept
	until  int64   // the bin in which the call ends
	quiet  int64   // the bin from which may be called again
}

// Projection is when a value will pass a limit.
type Projection struct {
	At       time.Time // when it is reached, as things are
	Earliest time.Time // 80 % between the two; package backtest counts it
	Latest   time.Time // zero: perhaps not at all within DriftHorizon
	Limit    float64   // the unit of the value, as PerHour's
	PerHour  float64   // change now
}

// DriftHorizon is how far ahead [Drift] looks.
const DriftHorizon = 8 * time.Hour

// Watch sets the limits, of the same end. What was learned stays, and so does the call of a
// limit that is watched already.
func (d *Drift) Watch(limits ...Limit) {
	if len(limits) == d.limits && d.calls[0].limit == limits[0] && d.calls[d.limits-1].limit == limits[d.limits-1] {
		return
	}
	var calls [maxDriftLimits]driftCall
	for i, l := range limits {
		calls[i].limit = l
		for _, c := range d.calls[:d.limits] {
			if c.limit == l {
				calls[i] = c
			}
		}
	}
	d.calls, d.limits = calls, len(limits)
}

// Projection is what is foretold of one of the limits, and whether anything is.
func (d *Drift) Projection(limit int) (Projection, bool) {
	if c := &d.calls[limit]; c.active {
		return c.call, true
	}
	return Projection{}, false
}

// Regained reports whether a value came back, by more than it swings, since a limit was foretold.
func (d *Drift) Regained(limit int, v float64) bool {
	return d.sign*v > d.calls[limit].from+minResidualKelvin+math.Sqrt(2*d.smooth[0].v)
}

// Calls reports whether any limit is foretold to be passed.
func (d *Drift) Calls() bool {
	for i := range d.calls[:d.limits] { // by index: a call is large, and this runs at each value
		if d.calls[i].active {
			return true
		}
	}
	return false
}

// expireCalls ends the calls that have lasted long enough.
func (d *Drift) expireCalls(b int64) {
	for i := range d.calls {
		d.calls[i].active = d.calls[i].active && b < d.calls[i].until
	}
}

// endReached ends the call of a limit that is passed: the band's alarm speaks. A cycle that
// touches the limit is one call.
func (d *Drift) endReached(b int64, v float64) {
	for i := range d.calls[:d.limits] {
		if c := &d.calls[i]; c.limit.Beyond(v) {
			c.active, c.quiet = false, b+holdBins
		}
	}
}

// pastAll reports whether a value is past every limit.
func (d *Drift) pastAll(v float64) bool {
	return !slices.ContainsFunc(d.calls[:d.limits], func(c driftCall) bool { return !c.limit.Beyond(v) })
}

// projectAll adds what a change foretells of each limit to what was found; looked reports
// whether a limit, as the values are kept, was looked at often enough.
func (d *Drift) projectAll(found *[maxDriftLimits]Projection, b int64, span int, c change, day *usualDay, looked func(at float64) bool) {
	for i := range d.calls[:d.limits] {
		if l := d.calls[i].limit; looked(d.sign * l.At) {
			found[i] = found[i].merge(d.project(b, span, l, c, day))
		}
	}
}

// raise calls what was projected, unless the value is on its way back.
func (d *Drift) raise(b, before int64, found [maxDriftLimits]Projection) {
	on := max(holdBins, min(maxHoldBins, holdPolls*(b-before)))
	if w := int64(d.window); w > 1 {
		before = b - w
	}
	if d.mean(b, d.window) > d.mean(before, d.window)+returningKelvin {
		return
	}
	for i, p := range found {
		if c := &d.calls[i]; !p.At.IsZero() && b >= c.quiet {
			c.call, c.active, c.from, c.until = p, true, d.mean(b, d.window), b+on
			d.fallen, d.moved = true, b
		}
	}
}

// merge joins what two spans foretell: the sooner, and the widest bounds.
func (p Projection) merge(q Projection) Projection {
	switch {
	case p.At.IsZero():
		return q
	case q.At.IsZero():
		return p
	}
	if q.At.Before(p.At) {
		p.At, p.PerHour = q.At, q.PerHour
	}
	if q.Earliest.Before(p.Earliest) {
		p.Earliest = q.Earliest
	}
	if p.Latest.IsZero() || q.Latest.IsZero() {
		p.Latest = time.Time{}
	} else if q.Latest.After(p.Latest) {
		p.Latest = q.Latest
	}
	return p
}
