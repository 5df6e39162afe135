package thermal

import "math"

// Summation sums heat through the rate of a belief. It does not change.
type Summation struct {
	kernel kernel
	cells  *cells
}

// Summation is that of the belief's slope and bend.
func (b Belief) Summation() *Summation {
	k := b.kernel()
	return &Summation{k, k.cells()}
}

// Sum is heat summed through a rate. It is a value; the zero Sum is no heat.
type Sum struct{ d dose }

// Exposure sums what was felt, its gaps bridged. Otherwise, Celsius, is the temperature of
// a gap of which nothing is known; see [Exposure.Bridged].
func (s *Summation) Exposure(x *Exposure, otherwise float64) Sum {
	return Sum{x.dose(&s.kernel, s.cells, otherwise)}
}

// Day sums one day at a mean temperature, Celsius, with a daily course of so many kelvin
// from trough to peak.
func (s *Summation) Day(mean, daily float64) Sum { return Sum{swing(&s.kernel, mean, daily)} }

// Plus is the two sums together.
func (s Sum) Plus(t Sum) Sum { return Sum{s.d.plus(t.d)} }

// Times is the sum of so many times the days.
func (s Sum) Times(f float64) Sum { return Sum{s.d.times(f)} }

// Days are the days that the heat is worth at the usual temperature.
func (s Sum) Days() float64 { return s.d.worth.days }

// Mean is the mean temperature, Celsius; NaN of no time.
func (s Sum) Mean() float64 { return s.d.heat / s.d.days }

// GapVariance is the variance of Days by what was not measured, days squared.
func (s Sum) GapVariance() float64 { return s.d.gapVar }

// Log is the log of Days, and how it changes with the slope, the bend and a shift of all
// temperatures, a kelvin. It is minus infinity of no heat.
func (s Sum) Log() (log, slope, bend, kelvin float64) {
	w := s.d.worth
	if !(w.days > 0) {
		return math.Inf(-1), 0, 0, 0
	}
	return math.Log(w.days), w.bySlope / w.days, w.byBend / w.days, w.byKelvin / w.days
}
