package book

import (
	"cmp"
	"math"
	"slices"
)

// z95 is the 97.5 % point of the normal distribution: two-sided 95 %.
const z95 = 1.959963984540054

// Ratio is a count out of a number.
type Ratio struct{ Count, Of int }

// Share is the ratio as a number, NaN when it is of nothing.
func (r Ratio) Share() float64 {
	if r.Of == 0 {
		return math.NaN()
	}
	return float64(r.Count) / float64(r.Of)
}

// Interval is the Wilson score interval at 95 %, without continuity correction
// (Newcombe 1998, Stat Med 17:857, method 3); NaN when the ratio is of nothing.
// It takes the eggs as independent; eggs of one clutch share much, so the truth
// is wider.
func (r Ratio) Interval() (low, high float64) {
	n, p := float64(r.Of), r.Share()
	mid := 2*n*p + z95*z95
	half := z95 * math.Sqrt(z95*z95+4*n*p*(1-p))
	low, high = (mid-half)/(2*(n+z95*z95)), (mid+half)/(2*(n+z95*z95))
	if r.Count == 0 && r.Of > 0 { // exact, where rounding would leave a trace
		low = 0
	}
	if r.Count == r.Of && r.Of > 0 {
		high = 1
	}
	return low, high
}

// Minus is the difference of two shares and its 95 % interval, by the hybrid of
// two score intervals (Newcombe 1998, Stat Med 17:873, method 10). All are NaN
// when either ratio is of nothing.
func (r Ratio) Minus(o Ratio) (diff, low, high float64) {
	p, q := r.Share(), o.Share()
	pl, ph := r.Interval()
	ql, qh := o.Interval()
	diff = p - q
	return diff, diff - math.Hypot(p-pl, qh-q), diff + math.Hypot(ph-p, q-ql)
}

// Fisher is the two-sided p of Fisher's exact test that two shares are the
// same: all tables with the same margins that are no likelier than this one
// (Agresti 2002, Categorical Data Analysis, section 3.5.1, from memory). It is
// 1 when either ratio is of nothing.
func (r Ratio) Fisher(o Ratio) float64 {
	hits, all := r.Count+o.Count, r.Of+o.Of
	log := func(k int) float64 { // of the hypergeometric probability
		return choose(r.Of, k) + choose(o.Of, hits-k) - choose(all, hits)
	}
	here, p := log(r.Count), 0.0
	for k := max(0, hits-o.Of); k <= min(r.Of, hits); k++ {
		if l := log(k); l <= here+1e-7 { // equal tables differ by rounding
			p += math.Exp(l)
		}
	}
	return min(1, p)
}

// choose is the log of a binomial coefficient.
func choose(n, k int) float64 {
	lg := func(n int) float64 { v, _ := math.Lgamma(float64(n) + 1); return v }
	return lg(n) - lg(k) - lg(n-k)
}

// Holm adjusts p values for how many there are, so that the chance of any false
// finding among them stays below the level (Holm 1979, Scand J Stat 6:65).
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

// Span is how long one was watched, in days, and whether it ended then; if not,
// it was still well when last seen.
type Span struct {
	Days  float64
	Ended bool
}

// Step is the share alive from a day on.
type Step struct {
	Days      float64
	AtRisk    int // watched up to this day
	Ended     int // on this day
	Alive     float64
	Error     float64 // standard error (Greenwood)
	Low, High float64 // 95 %; NaN once none is alive
}

// Survival is the share alive by days, where some were watched for less time
// than others (Kaplan and Meier 1958, J Am Stat Assoc 53:457), a step for each
// day on which one ended. One last seen on the day another ended is at risk on
// it. The interval is on the log minus log scale (Kalbfleisch and Prentice 2002,
// section 1.4.1, from memory), so it stays within 0 and 1.
func Survival(spans []Span) []Step {
	s := slices.SortedFunc(slices.Values(spans), func(a, b Span) int { return cmp.Compare(a.Days, b.Days) })
	var steps []Step
	alive, sum := 1.0, 0.0
	for i := 0; i < len(s); {
		step := Step{Days: s[i].Days, AtRisk: len(s) - i}
		for ; i < len(s) && s[i].Days == step.Days; i++ {
			if s[i].Ended {
				step.Ended++
			}
		}
		if step.Ended == 0 {
			continue
		}
		n, d := float64(step.AtRisk), float64(step.Ended)
		alive *= 1 - d/n
		sum += d / (n * (n - d))
		step.Alive = alive
		step.Low, step.High = math.NaN(), math.NaN()
		if step.AtRisk > step.Ended {
			step.Error = alive * math.Sqrt(sum)
			half := math.Exp(z95 * math.Sqrt(sum) / math.Abs(math.Log(alive)))
			step.Low, step.High = math.Pow(alive, half), math.Pow(alive, 1/half)
		}
		steps = append(steps, step)
	}
	return steps
}
