package alert

import "time"

// expectedBins is how long a room takes to follow its thermostat's timer (our choice).
const expectedBins = 2 * perHour

// expected is a level that the value goes to from a bin on.
type expected struct {
	from int64
	to   float64
}

// Expect tells that from a time on the value goes by so many kelvins to another level, as by a
// thermostat's timer that bands by the hour follow. A change that leads no further is no drift.
// Once a day is known, it leads no further than to where the value usually is after it.
func (d *Drift) Expect(from time.Time, by float64) {
	b := from.Unix() / binSeconds
	if b == d.turn.from {
		return
	}
	d.turn = expected{from: b, to: d.mean(b-1, perHour) + d.sign*by}
	if usual := d.usualAt(b + expectedBins); usual > d.turn.to {
		d.turn.to = usual
	}
}

// beyondExpected is how far a value is past the level that it was expected to go to in a span up
// to a bin; false where no change was expected in it. Without a value before the change it is
// not known.
func (d *Drift) beyondExpected(b, from int64, then, now float64) (float64, bool) {
	overlaps := d.turn.from > 0 && b >= d.turn.from && from < d.turn.from+expectedBins
	return now - d.turn.to, overlaps && then > d.turn.to // never of a NaN
}
