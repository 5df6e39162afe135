package alert

import (
	"math"
	"time"
)

// slack is what two roads from the same decimal figure to a float may differ by
// (76 °F read from a file and 76 °F read from a sensor); far below any sensor's
// step.
const slack = 1e-9

// Limit is one end of a band, in the unit of the alarm's kind.
type Limit struct {
	High     bool          `json:"high"`     // true at or above At; otherwise at or below
	At       float64       `json:"at"`       //
	Deadband float64       `json:"deadband"` // how far back before it ends, not negative
	OnDelay  time.Duration `json:"on_delay"`
	OffDelay time.Duration `json:"off_delay"`
	ReAlarm  time.Duration `json:"re_alarm"` // called again when true for so long after the last call; 0 is never
}

// Beyond reports whether a value is at the limit or past it.
func (l Limit) Beyond(v float64) bool {
	if l.High {
		return v >= l.At-slack
	}
	return v <= l.At+slack
}

// Back reports whether a value is back past the deadband.
func (l Limit) Back(v float64) bool {
	if l.High {
		return v < l.Threshold()-slack
	}
	return v > l.Threshold()+slack
}

// Threshold is the end of the deadband, past which a value is back.
func (l Limit) Threshold() float64 {
	if l.High {
		return l.At - l.Deadband
	}
	return l.At + l.Deadband
}

// worse is the one of two values that is further past the limit; NaN is none.
func (l Limit) worse(a, b float64) float64 {
	switch {
	case math.IsNaN(a):
		return b
	case math.IsNaN(b):
		return a
	case l.High:
		return math.Max(a, b)
	}
	return math.Min(a, b)
}
