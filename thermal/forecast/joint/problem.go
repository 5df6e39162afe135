package joint

import "math"

// Term is how much one global counts in a row.
type Term struct {
	Global int
	Value  float64
}

// Hatch is an egg of which the heat that it needed is known to lie between two values,
// log units.
type Hatch struct {
	Low, High float64
	Outlier   float64 // the probability that it comes from the wide scatter
}

// Wait is an egg that had not hatched at some heat: it needs more, or is dead.
type Wait struct {
	Met float64 // log units
	// Alive is the share of the way at which it was last seen alive, 0 to below 1.
	Alive float64
}

// Group is eggs that felt the same: one row, one dam, one clutch.
type Group struct {
	Dam, Clutch int    // any numbers; groups of one clutch have one dam
	Terms       []Term // the row, each global once
	ClutchVar   float64
	OwnVar      float64 // log units squared, of the group's own offset beyond its clutch's
	Hatched     []Hatch
	Waiting     []Wait
	Dead, Live  float64 // the beta prior of the share of dead eggs, with what its clutch shows
}

// Normal is a normal prior of successive globals, of mean 0.
type Normal struct {
	First      int
	Covariance [][]float64
}

// Problem is all that an inference sees.
type Problem struct {
	Globals int
	Priors  []Normal // of all globals, independent of one another
	Groups  []Group
}

// Scatter is the standard deviations of eggs, clutches and dams, log units, and its prior
// or posterior weight.
type Scatter struct{ Egg, Clutch, Dam, Weight float64 }

// Total is the standard deviation of eggs, clutches and dams together.
func (s Scatter) Total() float64 { return math.Hypot(s.Egg, math.Hypot(s.Clutch, s.Dam)) }

// unweighted is the point of the grid alone.
func (s Scatter) unweighted() Scatter {
	s.Weight = 0
	return s
}

// The prior of the scatters. Their total is 4.1 % within a treatment (the median of 534
// rows of the Reptile Development Database, Noble et al. 2018, Scientific Data 5:180138);
// its spread and its split are our choice. That clutch and dam together make half of the
// variance or more is from memory.
const (
	totalMedian = 0.041
	totalSpread = 0.30 // log units, one standard deviation
)

// splits are shares of the total variance: of eggs, clutches and dams.
var splits = [...][4]float64{
	{0.45, 0.35, 0.20, 0.40},
	{0.75, 0.15, 0.10, 0.20},
	{0.30, 0.50, 0.20, 0.20},
	{0.40, 0.20, 0.40, 0.20},
}

// totals are the points and weights of a standard normal that three points stand for
// (Gauss-Hermite).
var totals = [...]struct{ z, weight float64 }{{0, 2.0 / 3}, {-1.7320508, 1.0 / 6}, {1.7320508, 1.0 / 6}}

// Scatters is the prior of the scatters as a grid. The first point is its middle.
func Scatters() []Scatter {
	var all []Scatter
	var sum float64
	for _, split := range splits {
		for _, x := range totals {
			total := totalMedian * math.Exp(x.z*totalSpread)
			weight := split[3] * x.weight
			sum += weight
			all = append(all, Scatter{total * math.Sqrt(split[0]), total * math.Sqrt(split[1]), total * math.Sqrt(split[2]), weight})
		}
	}
	for i := range all {
		all[i].Weight /= sum
	}
	return all
}
