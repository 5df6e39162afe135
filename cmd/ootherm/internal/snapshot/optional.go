package snapshot

import (
	"math"
	"time"
)

// OptText returns a text for JSON. It is nil if the text is empty.
func OptText(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// OptTime returns a time for JSON. It is nil if the time is zero.
func OptTime(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

// OptFloat returns a number for JSON. It is nil if the number is not finite.
func OptFloat(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
