package snapshot

import "math"

// OptText returns a text for JSON. It is nil if the text is empty.
func OptText(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// OptFloat returns a number for JSON. It is nil if the number is not finite.
func OptFloat(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
