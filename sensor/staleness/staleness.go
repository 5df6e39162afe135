// Package staleness refuses a value of another device that is too old, by the time that the
// value carries. It owns the rule for a time in the future. It must not know how a value
// arrives.
package staleness

import (
	"time"

	"example.com/ootherm/sensor"
)

// Check remembers the times that values carried. MaxAge and Now are set before the first use.
type Check struct {
	MaxAge time.Duration
	Now    func() time.Time

	stamps map[string]stamp // by the value's name
}

// stamp is the time that a value carries, and what our own clock says of it.
type stamp struct {
	at    time.Time
	since time.Time // when we first saw it, by our own clock
	later bool      // it came after another one, so it was measured since we saw that
}

// maxAhead is how far two clocks may differ for a time in the future to pass as now (our
// choice: both are set by a time server, or one of them is not).
const maxAhead = time.Minute

// Latest is a time in Unix seconds that no clock shows, the year 5138: milliseconds are told
// apart by it.
const Latest = 1e11

// Fresh refuses a value that is too old, or whose age cannot be known. The error is
// [sensor.NoAnswer] or [sensor.Ahead].
//
// A time in the future says that one of the two clocks is wrong, and nothing of an age. Then
// our own clock tells how long ago the device last had a later one, and the first one is
// refused.
func (c *Check) Fresh(name string, at time.Time) error {
	now := c.Now()
	x, known := c.stamps[name]
	if !known || !at.Equal(x.at) {
		if c.stamps == nil {
			c.stamps = map[string]stamp{}
		}
		x = stamp{at: at, since: now, later: known && at.After(x.at)}
		c.stamps[name] = x
	}
	age := now.Sub(at)
	if age < -maxAhead {
		if !x.later {
			return sensor.Fail(sensor.Ahead, "%s is stamped %v ahead of this station's clock: set the device's clock, or see this one's; it is believed once a later stamp comes", name, -age.Round(time.Second))
		}
		age = now.Sub(x.since)
	}
	if age > c.MaxAge {
		return sensor.Fail(sensor.NoAnswer, "%s is %v old: see the device's own probe, and its clock", name, age.Round(time.Second))
	}
	return nil
}
