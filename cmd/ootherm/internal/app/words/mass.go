package words

import (
	"math"
	"strings"
)

// Grams is a mass, "4 g" or "4.5 g"; under 1 g with two figures more.
func Grams(g float64) string {
	s := grams(g)
	if s == Unknown {
		return s
	}
	return s + " g"
}

// Range is a mass known to lie between two, "4-6 g"; "4 g" where both look alike.
func Range(low, high float64) string {
	a, b := grams(low), grams(high)
	if a == b || a == Unknown || b == Unknown {
		return Grams(high)
	}
	return a + "-" + b + " g"
}

func grams(g float64) string {
	decimals := 1
	if math.Abs(g) < 1 {
		decimals = 2
	}
	s := figure(g, decimals)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// Percent is a share, "23 %", rounded down.
func Percent(share float64) string { return percent(share) }
