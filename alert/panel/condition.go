package panel

import (
	"time"

	"example.com/ootherm/alert"
)

// Condition is the limit of an alarm that watches a condition and not a
// measurement; see [Truth].
func Condition(on, off, again time.Duration) alert.Limit {
	return alert.Limit{High: true, At: 1, OnDelay: on, OffDelay: off, ReAlarm: again}
}

// Truth is the value to show for a [Condition].
func Truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
