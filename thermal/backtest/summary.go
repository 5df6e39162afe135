package backtest

import (
	"cmp"
	"math"
	"slices"

	"example.com/ootherm/thermal/profile"
)

// The clades that are scored apart.
const (
	Turtles        = "turtles"
	Geckos         = "geckos"
	OtherSquamates = "other squamates"
	Crocodilians   = "crocodilians"
	OtherReptiles  = "others"
)

// Clades lists the clades, in the order in which they are shown.
func Clades() []string {
	return []string{Turtles, Geckos, OtherSquamates, Crocodilians, OtherReptiles}
}

// Clade is the clade of an order and a family, either of which may be empty.
func Clade(order, family string) string {
	switch {
	case profile.Group(family) == profile.Geckos:
		return Geckos
	case order == "Testudines":
		return Turtles
	case order == "Squamata":
		return OtherSquamates
	case order == "Crocodilia" || order == "Crocodylia":
		return Crocodilians
	}
	return OtherReptiles
}

// summarise makes the summaries of the rows.
func (r *Result) summarise() {
	for _, p := range Protocols() {
		r.Protocols[p] = summaryOf(r.Rows, func(x Prediction) bool { return x.Protocol == p })
		for _, clade := range Clades() {
			s := summaryOf(r.Rows, func(x Prediction) bool { return x.Protocol == p && x.Clade == clade })
			if s.N == 0 {
				continue
			}
			if r.Clades[clade] == nil {
				r.Clades[clade] = map[string]Summary{}
			}
			r.Clades[clade][p] = s
		}
	}
}

// summaryOf is the summary of some of the rows.
func summaryOf(rows []Prediction, of func(Prediction) bool) Summary {
	var s Summary
	var weight float64
	type weighted struct{ ape, weight float64 }
	var apes []weighted
	for _, r := range rows {
		if !of(r) {
			continue
		}
		ape := math.Abs(r.Predicted-r.Actual) / r.Actual
		weight += r.Weight
		s.MAPE += r.Weight * ape
		if r.Low80 <= r.Actual && r.Actual <= r.High80 {
			s.Within80 += r.Weight
		}
		s.Width80 += r.Weight * (r.High80 - r.Low80) / r.Predicted
		s.LogScore += r.Weight * r.LogScore
		switch {
		case r.PIT < 0.1:
			s.Early10 += r.Weight
		case r.PIT > 0.9:
			s.Late10 += r.Weight
		}
		apes = append(apes, weighted{ape, r.Weight})
	}
	if weight == 0 {
		return Summary{}
	}
	s.N = int(math.Round(weight))
	for _, mean := range []*float64{&s.MAPE, &s.Within80, &s.Width80, &s.LogScore, &s.Early10, &s.Late10} {
		*mean /= weight
	}
	slices.SortFunc(apes, func(a, b weighted) int { return cmp.Compare(a.ape, b.ape) })
	var sum float64
	for _, a := range apes {
		if sum += a.weight; sum >= weight/2 {
			s.MedianAPE = a.ape
			break
		}
	}
	return s
}
