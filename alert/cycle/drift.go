package cycle

import (
	"math"
	"time"

	"example.com/ootherm/alert"
)

// Drift is the drift alarm of one end that also knows the cycle of the zone's thermostat. A
// cycle that stops foretells that a limit is passed, where the drift itself does not yet.
// Without a regular cycle it is the drift alone.
type Drift struct {
	alert.Drift
	cycle  Cycle
	sign   float64 // values are kept so that the limits are low ones
	limits [2]alert.Limit
	calls  [2]stopCall
	stop   Stop      // of the newest call
	looks  time.Time // since when the cycle looks stopped; zero: it does not
	turned time.Time // until when the value may go to another level, as Expect told
}

// stopCall is what a stopped cycle foretells of one limit.
type stopCall struct {
	alert.Projection
	until time.Time // zero: it foretells nothing
}

// What makes a call of a stopped cycle, and how it is projected. All are our choice:
// TestDeadHeater and TestRunningHeater print what they are worth.
const (
	leastLook      = 2 * time.Minute // that it must look stopped; one point where they are further apart
	wayShare       = 1.0 / 3         // of the way from the lowest turn to the limit: a smaller change of the set point is no call
	holdTime       = 2 * time.Hour   // that a call outlasts its cause
	minLead        = 2 * time.Minute // a shorter lead is not worth a call
	fadingHours    = 3.0             // hours in which the fall dies away, as alert.Drift takes it
	fastestRatio   = 1.5             // of the rate, for the earliest time
	slowestRatio   = 0.75            // of the rate, for the latest
	usualWithin    = time.Hour       // either way: a timer's night begins fast, and not to the minute
	usualStep      = 30 * time.Minute
	expectedToMove = 2 * time.Hour // after a change of the band by the hour
)

// NewDrift watches limits of one end, the nearest first: one or two. It learns the course of
// the day by the clock of a place.
func NewDrift(place *time.Location, limits ...alert.Limit) *Drift {
	d := &Drift{Drift: *alert.NewDrift(place, limits...), sign: 1}
	if limits[0].High {
		d.sign = -1
	}
	d.keep(limits)
	return d
}

// Watch sets the limits, of the same end; see [alert.Drift.Watch].
func (d *Drift) Watch(limits ...alert.Limit) {
	d.Drift.Watch(limits...)
	d.keep(limits)
}

// keep keeps the calls of the limits that stay.
func (d *Drift) keep(limits []alert.Limit) {
	for i := range d.limits {
		var l alert.Limit
		if i < len(limits) {
			l = limits[i]
		}
		if d.limits[i] != l {
			d.limits[i], d.calls[i] = l, stopCall{}
		}
	}
}

// Expect tells that from a time on the value goes to another level; see [alert.Drift.Expect].
// Meanwhile a fall past the usual turn is no stopped cycle.
func (d *Drift) Expect(from time.Time, by float64) {
	d.Drift.Expect(from, by)
	d.turned = from.Add(expectedToMove)
}

// Observe takes one value, or its absence, and reports whether a limit is foretold to be
// passed.
func (d *Drift) Observe(now time.Time, v float64, known bool) bool {
	drifts := d.Drift.Observe(now, v, known)
	for i := range d.calls {
		if c := &d.calls[i]; !c.until.IsZero() && now.After(c.until) {
			*c = stopCall{}
		}
	}
	if known && !math.IsNaN(v) && !math.IsInf(v, 0) {
		if added := d.cycle.Observe(now, d.sign*v); added || d.called() {
			d.judge(now, v)
		}
	}
	return drifts || d.called()
}

// judge calls where the cycle has stopped, and ends the call where it goes on. After a call the
// cycle is learned again: another set point has another.
func (d *Drift) judge(now time.Time, v float64) {
	l, _ := d.cycle.Learned()
	goesOn := d.cycle.TurnsUp()
	if goesOn && d.called() {
		d.cycle.Forget()
	}
	stop, stopped := d.cycle.Stopped()
	switch {
	case !stopped:
		d.looks = time.Time{}
	case d.looks.IsZero():
		d.looks = now
	}
	stopped = stopped && d.believed(now, v)
	for i, limit := range d.limits {
		if i > 0 && limit == (alert.Limit{}) {
			break
		}
		at := d.sign * limit.At
		if limit.Beyond(v) || goesOn || d.sign*v > l.Low {
			d.calls[i] = stopCall{}
			continue
		}
		if !stopped || stop.Below < wayShare*(l.Low-at) {
			continue
		}
		if p, ok := d.project(now, d.sign*v-at, limit, stop); ok {
			d.stop, d.calls[i] = stop, stopCall{p, now.Add(holdTime)}
		}
	}
}

// believed reports whether the cycle has looked stopped for long enough, and neither the time of
// the day nor a change of the band explains it. Until a day is known it may be the first night of
// a timer.
func (d *Drift) believed(now time.Time, v float64) bool {
	if now.Before(d.turned) || now.Sub(d.looks) < leastLook && d.cycle.Spacing() < leastLook {
		return false
	}
	l, _ := d.cycle.Learned()
	for off := -usualWithin; off <= usualWithin; off += usualStep {
		usual, tolerance := d.Usual(now.Add(off))
		if !(d.sign*(usual-v) > tolerance+l.Swing/2) { // nor where it is not known
			return false
		}
	}
	return true
}

// project foretells when a gap is closed. The fall is taken to die away; where it would do so
// before the limit, it is taken to go on.
func (d *Drift) project(now time.Time, gap float64, limit alert.Limit, s Stop) (alert.Projection, bool) {
	at, ok := closes(gap, s.PerHour)
	if !ok {
		at = hours(gap / s.PerHour)
	}
	p := alert.Projection{Limit: limit.At, PerHour: -d.sign * s.PerHour, At: now.Add(at), Earliest: now.Add(hours(gap / s.PerHour / fastestRatio))}
	if late, ok := closes(gap, slowestRatio*s.PerHour); ok && late <= alert.DriftHorizon {
		p.Latest = now.Add(late)
	}
	return p, at >= minLead && at <= alert.DriftHorizon
}

// closes is when a fall that dies away has closed a gap; false where it never does.
func closes(gap, perHour float64) (time.Duration, bool) {
	left := 1 - gap/(perHour*fadingHours)
	if left <= 0 {
		return 0, false
	}
	return hours(-fadingHours * math.Log(left)), true
}

// hours is a time of so many hours, bounded to what a duration holds.
func hours(h float64) time.Duration { return time.Duration(min(h, 1e5) * float64(time.Hour)) }

// called reports whether the stopped cycle foretells anything.
func (d *Drift) called() bool { return !d.calls[0].until.IsZero() || !d.calls[1].until.IsZero() }

// Calls reports whether anything is foretold of any limit.
func (d *Drift) Calls() bool { return d.Drift.Calls() || d.called() }

// Projection is what is foretold of one of the limits, and whether anything is: by the drift,
// or else by the cycle that stopped.
func (d *Drift) Projection(limit int) (alert.Projection, bool) {
	if p, ok := d.Drift.Projection(limit); ok {
		return p, true
	}
	c := &d.calls[limit]
	return c.Projection, !c.until.IsZero()
}

// Stopped is how the cycle stopped that foretells something; zero where none does.
func (d *Drift) Stopped() Stop {
	if !d.called() {
		return Stop{}
	}
	return d.stop
}

// Cycle is the thermostat's cycle; false where none is evident. Of a high end it is upside
// down: its falls are the rises.
func (d *Drift) Cycle() (Learned, bool) { return d.cycle.Learned() }
