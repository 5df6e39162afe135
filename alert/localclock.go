package alert

import (
	"math"
	"time"
)

// localClock counts bins by the clock of a place, so that what a person or a thermostat does
// at an hour stays at that hour when the clocks change.
type localClock struct {
	place    *time.Location // nil: UTC
	from, to int64          // bins in which the clock is ahead of UTC by so much
	ahead    int64          // bins
}

// bin is the number of a bin by the local clock.
func (c *localClock) bin(b int64) int64 {
	if c.place == nil {
		return b
	}
	if b < c.from || b >= c.to {
		c.look(b)
	}
	return b + c.ahead
}

// look finds how far the clock is ahead at a bin, and for how long.
func (c *localClock) look(b int64) {
	at := time.Unix(b*binSeconds, 0).In(c.place)
	_, offset := at.Zone()
	c.ahead, c.from, c.to = int64(offset/binSeconds), math.MinInt64, math.MaxInt64
	from, to := at.ZoneBounds()
	if !from.IsZero() {
		c.from = from.Unix() / binSeconds
	}
	if !to.IsZero() {
		c.to = to.Unix() / binSeconds
	}
}
