package stats

import (
	"cmp"
	"math"
	"slices"
)

// Span is the time that one animal was watched.
type Span struct {
	Days  float64
	Ended bool // it died then; otherwise it was well when last seen
}

// Step is the share alive from a day on.
type Step struct {
	Days      float64
	AtRisk    int // watched up to this day
	Ended     int // on this day
	Alive     float64
	Error     float64 // standard error (Greenwood)
	Low, High float64 // 95 %; NaN once all have ended
}

// Survival is the share alive by days, where some were watched for less time
// than others (Kaplan and Meier 1958, J Am Stat Assoc 53:457). It has a step for
// each day on which one ended. One that was last seen on the day another ended is
// at risk on it. The interval is on the log minus log scale (Kalbfleisch and
// Prentice 2002, section 1.4.1, from memory), so it stays within 0 and 1.
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
			half := math.Exp(Z95 * math.Sqrt(sum) / math.Abs(math.Log(alive)))
			step.Low, step.High = math.Pow(alive, half), math.Pow(alive, 1/half)
		}
		steps = append(steps, step)
	}
	return steps
}
