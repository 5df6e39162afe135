package snapshot

import "math"

// OptText is a text for JSON: nil where it is empty.
func OptText(s string) *string {
	if s == "" {
		return nil
	}
	return &s
}

// OptFloat is a figure for JSON: nil where it is not finite.
func OptFloat(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}
