package review

import (
	"maps"
	"slices"

	"example.com/ootherm/thermal/book/stats"
)

// significance is the level at which a comparison stands out: 5 %, common
// practice.
const significance = 0.05

// Comparison compares one dam with the other dams of the season together.
type Comparison struct {
	Of              string // "fertile", "hatched" or "alive"
	Dam, Others     stats.Ratio
	Diff, Low, High float64 // dam less others, with its own 95 % interval
	P               float64 // Fisher's exact test
	Adjusted        float64 // P, adjusted for all comparisons of the review (Holm)
}

// Significant reports whether chance alone hardly explains the difference: at 5 %,
// among all comparisons of the review.
func (c Comparison) Significant() bool { return c.Adjusted < significance }

// compareShares compares each dam with the others together. It leaves out
// comparisons in which one side has no eggs.
func (r *Review) compareShares() {
	for _, m := range []struct {
		name  string
		share func(*Tally) stats.Ratio
	}{
		{"fertile", func(t *Tally) stats.Ratio { return t.Fertile }},
		{"hatched", func(t *Tally) stats.Ratio { return t.Hatched }},
		{"alive", func(t *Tally) stats.Ratio { return t.Alive }},
	} {
		var sum stats.Ratio
		for i := range r.Dams {
			x := m.share(&r.Dams[i])
			sum.Count, sum.Of = sum.Count+x.Count, sum.Of+x.Of
		}
		for i := range r.Dams {
			dam := m.share(&r.Dams[i])
			others := stats.Ratio{Count: sum.Count - dam.Count, Of: sum.Of - dam.Of}
			if dam.Of == 0 || others.Of == 0 {
				continue
			}
			c := Comparison{Of: m.name, Dam: dam, Others: others, P: dam.Fisher(others)}
			c.Diff, c.Low, c.High = dam.Minus(others)
			r.Dams[i].Comparisons = append(r.Dams[i].Comparisons, c)
		}
	}
}

// compareDurations compares each dam's durations with those of other dams,
// profile by profile: the durations of another profile say nothing of her.
func (r *Review) compareDurations() {
	for i := range r.Dams {
		var own, others MeanDuration
		for _, profile := range slices.Sorted(maps.Keys(r.Dams[i].byProfile)) { // sums depend on their order
			var rest MeanDuration
			for j := range r.Dams {
				if j != i {
					rest = rest.plus(r.Dams[j].byProfile[profile])
				}
			}
			if rest.Clutches > 0 {
				own, others = own.plus(r.Dams[i].byProfile[profile]), others.plus(rest)
			}
		}
		if own.Clutches > 0 {
			c := compareMeans(own, others)
			r.Dams[i].Duration = &c
		}
	}
}

// adjust sets the adjusted p values of all comparisons together.
func (r *Review) adjust() {
	var p []float64
	var adjusted []*float64
	for i := range r.Dams {
		for j := range r.Dams[i].Comparisons {
			c := &r.Dams[i].Comparisons[j]
			p, adjusted = append(p, c.P), append(adjusted, &c.Adjusted)
		}
		if c := r.Dams[i].Duration; c != nil {
			p, adjusted = append(p, c.P), append(adjusted, &c.Adjusted)
		}
	}
	r.Comparisons = len(p)
	for i, v := range stats.Holm(p) {
		*adjusted[i] = v
	}
}
