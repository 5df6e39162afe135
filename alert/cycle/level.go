package cycle

import (
	"math"
	"time"
)

// Level is how a value stands to what it usually is at this hour of the day.
type Level struct {
	Celsius    float64
	Usual      float64 // C; the median of a week
	Difference float64 // K, Celsius less Usual
	Past       float64 // K past the usual on the side of the limits
	Back       bool    // it is no further past the usual than it wanders by itself
	Holding    bool    // a drift was called, foretells nothing now, and the value is not back
}

// Level is the level of a value; false while no day is known, or where it is no number.
func (d *Drift) Level(now time.Time, celsius float64) (Level, bool) {
	usual, tolerance := d.Usual(now)
	if math.IsNaN(usual) || math.IsNaN(celsius) {
		return Level{}, false
	}
	x := Level{Celsius: celsius, Usual: usual, Difference: celsius - usual, Past: d.sign * (usual - celsius), Holding: d.Holding()}
	x.Back = x.Past <= tolerance
	return x, true
}
