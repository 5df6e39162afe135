package alert

import "math"

// failure is a time in which the value was away, past the first limit or far to the other side,
// until it is back. What it taught is forgotten when it is over. Else it would be foretold for
// the next day at the same hours, and would hide the next failure.
type failure struct {
	side   float64         // of the usual, on which the value is away: -1 towards the limit, 1; 0: it is not away
	began  int64           // the bin
	least  int64           // bins that it lasts at least
	before taught          // what was known then
	failed [driftRing]bool // the bins of the last day in which it was away
}

// How many bins a failure lasts (our choice). What is shorter is a habit, a jump for longer, as
// of an opened window. The usual follows a new level after four days.
const (
	leastFailure   = perHour
	leastJump      = 3 * perHour
	longestFailure = 3 * perDay
)

// teaches reports whether the change over a span of bins up to one may be learned: after a
// failure, what begins in it may not.
func (f *failure) teaches(b int64, span int) bool {
	return f.side != 0 || !f.failed[(b-int64(span))%driftRing]
}

// follow marks the newest bin of a drift where its value is away.
func (f *failure) follow(d *Drift, b int64) {
	v := d.mean(b, max(2, d.window))
	off := v - d.usualAt(b)
	f.failed[b%driftRing] = f.side != 0 && !(f.side*off < d.levels.tolerance()) // a NaN is not back
	switch {
	case f.failed[b%driftRing]:
	case f.side != 0:
		f.end(d, b)
	case d.farAway(b, farOffKelvin):
		f.begin(d, b, 1)
	case d.calls[0].limit.Beyond(d.sign*v) && off < -d.levels.tolerance():
		f.begin(d, b, -1)
	}
}

// begin marks the bins up to one since the value left the usual.
func (f *failure) begin(d *Drift, b int64, side float64) {
	f.side, f.began, f.least, f.before = side, b, leastFailure, d.taught
	for ; b > d.last-driftRing && side*(d.at(b)-d.usualAt(b)) > d.levels.tolerance(); b-- { // never of a NaN
		f.failed[b%driftRing] = true
		if side*(d.at(b)-d.at(b-2)) > jumpKelvin {
			f.least = leastJump
		}
	}
}

// end forgets at a bin what a failure taught that lasted neither too short nor too long.
func (f *failure) end(d *Drift, b int64) {
	f.side = 0
	switch lasted := b - f.began; {
	case lasted > longestFailure: // a new level
	case lasted < f.least: // a habit
		for b--; f.failed[b%driftRing]; b-- {
			f.failed[b%driftRing] = false
		}
	default:
		d.taught = f.before
		for ; b > d.last-driftRing; b-- {
			if hour := b / perHour; f.failed[b%driftRing] {
				d.hourly[hour%driftHours] = math.Inf(1)
				clear(d.records[hour%24][:])
			}
		}
	}
}
