package clock

import (
	"math"
	"time"
)

// Unbounded is the bound of a start that no clock vouches for.
const Unbounded = time.Duration(math.MaxInt64)

// How a boot is dated again. Both figures are our own.
const (
	// tolerance is how far a clock may have moved against the uptime without
	// that being news: leap seconds and the small steps of a time daemon.
	tolerance = 2 * time.Second

	// settle is how long a step must stand before it is believed of a clock that
	// is no better than the one that dated the boot.
	settle = 10 * time.Minute
)

// Date is when a boot began.
type Date struct {
	Start        time.Time     // at uptime zero
	Bound        time.Duration // how wrong Start may be, either way
	Synchronised bool
}

// At is the time at an uptime.
func (d Date) At(uptime time.Duration) time.Time { return d.Start.Add(uptime) }

// Floor is what every time must lie at or after, whatever a clock says.
type Floor struct {
	NotBefore time.Time // the program was built then
	Last      time.Time // the last time recorded in an earlier boot
}

func (f Floor) raise(t time.Time) time.Time {
	if t.Before(f.NotBefore) {
		t = f.NotBefore
	}
	if t.Before(f.Last) {
		t = f.Last
	}
	return t
}

// Dating decides when a boot began. It is a value: Observe leaves it as it was.
//
// A boot is dated at once by whatever clock there is; without a synchronised one
// the date is unverified, and raised to the floor. The first synchronised
// reading dates it anew, by the measured offset, and that is the end of it: on
// uptime nothing moves when the wall clock steps. Only a step that stands for
// ten minutes, on a clock as good as the one that dated the boot, dates it
// again: a clock set by hand where there is no network, or a time source that
// was wrong at first.
type Dating struct {
	date  Date
	floor Floor

	doubt  bool          // a differing start has been seen since
	since  time.Duration // uptime
	differ time.Time     // that start
}

// Begin dates a boot that is not recorded yet.
func Begin(r Reading, floor Floor) Dating {
	d := Dating{floor: floor}
	d.date = d.by(r)
	return d
}

// Resume goes on with a boot that was dated before.
func Resume(date Date, floor Floor) Dating { return Dating{date: date, floor: floor} }

// Date is what is decided so far.
func (d Dating) Date() Date { return d.date }

// by is the date that a reading alone would give.
func (d Dating) by(r Reading) Date {
	start := r.Wall.Round(0).Add(-r.Uptime)
	// A synchronised clock that shows a time before the build is not.
	if r.Synchronised && !r.Wall.Before(d.floor.NotBefore) {
		return Date{start, r.Bound, true}
	}
	return Date{d.floor.raise(start), Unbounded, false}
}

// Observe takes a reading, and reports whether the boot is dated anew.
func (d Dating) Observe(r Reading) (Dating, bool) {
	now := d.by(r)
	switch {
	case now.Synchronised && !d.date.Synchronised:
		return Dating{date: now, floor: d.floor}, true
	case d.date.Synchronised && !now.Synchronised, near(now.Start, d.date.Start):
		d.doubt = false
		return d, false
	case !d.doubt || !near(now.Start, d.differ):
		d.doubt, d.since, d.differ = true, r.Uptime, now.Start
		return d, false
	case r.Uptime-d.since < settle:
		return d, false
	}
	return Dating{date: now, floor: d.floor}, true
}

func near(a, b time.Time) bool { return a.Sub(b).Abs() <= tolerance }
