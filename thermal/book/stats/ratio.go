// Package stats owns the statistics that a season's review needs: shares with
// their intervals, comparisons of two shares, and survival curves. Each method
// names its paper. It knows counts and days, and must not know what an egg is.
package stats

import (
	"cmp"
	"math"
	"slices"
)

// Z95 is the 97.5 % point of the normal distribution: two-sided 95 %.
const Z95 = 1.959963984540054

// Ratio is a count out of a total.
type Ratio struct{ Count, Of int }

// Share is the ratio as a number, 0..1. It is NaN when the total is 0.
func (r Ratio) Share() float64 {
	if r.Of == 0 {
		return math.NaN()
	}
	return float64(r.Count) / float64(r.Of)
}

// With is the ratio after one more trial, which succeeded or did not.
func (r Ratio) With(success bool) Ratio {
	r.Of++
	if success {
		r.Count++
	}
	return r
}

// Interval is the Wilson score interval at 95 %, without continuity correction
// (Newcombe 1998, Stat Med 17:857, method 3). It is NaN when the total is 0. It
// assumes that eggs are independent; eggs of one clutch share much, so the truth
// is wider.
func (r Ratio) Interval() (low, high float64) {
	n, p := float64(r.Of), r.Share()
	mid := 2*n*p + Z95*Z95
	half := Z95 * math.Sqrt(Z95*Z95+4*n*p*(1-p))
	low, high = (mid-half)/(2*(n+Z95*Z95)), (mid+half)/(2*(n+Z95*Z95))
	if r.Count == 0 && r.Of > 0 { // exact, where rounding would leave a trace
		low = 0
	}
	if r.Count == r.Of && r.Of > 0 {
		high = 1
	}
	return low, high
}

// Minus is the difference of two shares and its 95 % interval, by the hybrid of
// two score intervals (Newcombe 1998, Stat Med 17:873, method 10). All three are
// NaN when either total is 0.
func (r Ratio) Minus(o Ratio) (diff, low, high float64) {
	p, q := r.Share(), o.Share()
	pl, ph := r.Interval()
	ql, qh := o.Interval()
	diff = p - q
	return diff, diff - math.Hypot(p-pl, qh-q), diff + math.Hypot(ph-p, q-ql)
}

// Fisher is the two-sided p value of Fisher's exact test that two shares are the
// same. It sums all tables with the same margins that are no likelier than this
// one (Agresti 2002, Categorical Data Analysis, section 3.5.1, from memory). It is
// 1 when either total is 0.
func (r Ratio) Fisher(o Ratio) float64 {
	hits, all := r.Count+o.Count, r.Of+o.Of
	logProbability := func(k int) float64 { // hypergeometric
		return logChoose(r.Of, k) + logChoose(o.Of, hits-k) - logChoose(all, hits)
	}
	here, p := logProbability(r.Count), 0.0
	for k := max(0, hits-o.Of); k <= min(r.Of, hits); k++ {
		if l := logProbability(k); l <= here+1e-7 { // rounding makes equal tables differ
			p += math.Exp(l)
		}
	}
	return min(1, p)
}

// logChoose is the log of a binomial coefficient.
func logChoose(n, k int) float64 {
	lg := func(n int) float64 { v, _ := math.Lgamma(float64(n) + 1); return v }
	return lg(n) - lg(k) - lg(n-k)
}

// Holm adjusts p values for their number, so that the chance of any false finding
// among them stays below the level (Holm 1979, Scand J Stat 6:65). The result is
// in the order given.
func Holm(p []float64) []float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	adjusted, least := make([]float64, len(p)), 0.0
	for rank, i := range order {
		least = max(least, min(1, float64(len(p)-rank)*p[i]))
		adjusted[i] = least
	}
	return adjusted
}
