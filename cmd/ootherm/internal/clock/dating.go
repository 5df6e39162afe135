package clock

import (
	"math"
	"time"
)

// Unbounded is the bound of a start that no synchronised clock confirmed.
const Unbounded = time.Duration(math.MaxInt64)

// Limits for a new date of a boot. Both are our choice.
const (
	// maxDrift is the largest step of a clock that does not change the date. It covers
	// leap seconds and the small steps of a time daemon.
	maxDrift = 2 * time.Second

	// minStepAge is the time for which a step must last before it changes the date, on a
	// clock that is not better than the one that dated the boot.
	minStepAge = 10 * time.Minute
)

// Date gives the start of a boot and its quality.
type Date struct {
	Start        time.Time     // the time at uptime zero
	Bound        time.Duration // the largest error of Start, in both directions
	Synchronised bool
}

// At returns the time at an uptime.
func (d Date) At(uptime time.Duration) time.Time { return d.Start.Add(uptime) }

// Floor holds the times that no boot can begin before, whatever a clock says.
type Floor struct {
	NotBefore time.Time // when the program was built
	Last      time.Time // the last time recorded in an earlier boot
}

// raise returns t, or the floor if t lies before it.
func (f Floor) raise(t time.Time) time.Time {
	if t.Before(f.NotBefore) {
		t = f.NotBefore
	}
	if t.Before(f.Last) {
		t = f.Last
	}
	return t
}

// Dating decides when a boot began. It is a value: Observe returns the next one.
//
// The first reading dates the boot. Without a synchronised clock the date is unverified
// and not before the floor. The first synchronised reading gives the boot a new date.
// After that a step of the wall clock changes nothing, because the station uses uptime.
// There is one exception: a step that lasts ten minutes, on a clock as good as the one
// that dated the boot, gives a new date. Such a step comes from a clock that is set by
// hand where there is no network, or from a time source that was wrong at first.
type Dating struct {
	date  Date
	floor Floor

	stepped    bool          // the clock gives another start
	steppedAt  time.Duration // since this uptime
	otherStart time.Time     // that start
}

// Begin dates a boot that is not recorded yet, by its first reading.
func Begin(r Reading, floor Floor) Dating {
	d := Dating{floor: floor}
	d.date = d.dateBy(r)
	return d
}

// Resume continues a boot that was dated before.
func Resume(date Date, floor Floor) Dating { return Dating{date: date, floor: floor} }

// Date returns the present date of the boot.
func (d Dating) Date() Date { return d.date }

// dateBy returns the date that one reading gives.
func (d Dating) dateBy(r Reading) Date {
	start := r.Wall.Round(0).Add(-r.Uptime)
	// A clock that shows a time before the build is wrong, whatever it says of itself.
	if r.Synchronised && !r.Wall.Before(d.floor.NotBefore) {
		return Date{start, r.Bound, true}
	}
	return Date{d.floor.raise(start), Unbounded, false}
}

// Observe takes a reading. It returns the next state and reports whether the date changed.
func (d Dating) Observe(r Reading) (Dating, bool) {
	now := d.dateBy(r)
	switch {
	case now.Synchronised && !d.date.Synchronised:
		return Dating{date: now, floor: d.floor}, true
	case d.date.Synchronised && !now.Synchronised, near(now.Start, d.date.Start):
		d.stepped = false
		return d, false
	case !d.stepped || !near(now.Start, d.otherStart):
		d.stepped, d.steppedAt, d.otherStart = true, r.Uptime, now.Start
		return d, false
	case r.Uptime-d.steppedAt < minStepAge:
		return d, false
	}
	return Dating{date: now, floor: d.floor}, true
}

// near reports whether two starts differ by no more than small steps of a clock.
func near(a, b time.Time) bool { return a.Sub(b).Abs() <= maxDrift }
