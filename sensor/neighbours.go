package sensor

import (
	"math"
	"slices"
)

// Apart is how far, in kelvin, a probe may be from its neighbours in one room
// before one of them is to be looked at: four probes of one recorded room were
// 3.6 K apart at worst, 0.8 K in the median; the margin is our choice.
const Apart = 4.0

// Odd gives the indices of the temperatures that are further than limit from the
// median of all the others. Of two that disagree nobody can tell which is wrong:
// both are given. What is NaN is neither judged nor counted.
func Odd(celsius []float64, limit float64) []int {
	var odd []int
	for i, c := range celsius {
		var others []float64
		for j, o := range celsius {
			if j != i && !math.IsNaN(o) {
				others = append(others, o)
			}
		}
		if len(others) > 0 && math.Abs(c-median(others)) > limit { // never of a NaN
			odd = append(odd, i)
		}
	}
	return odd
}

func median(v []float64) float64 {
	slices.Sort(v)
	n := len(v)
	return (v[(n-1)/2] + v[n/2]) / 2
}
