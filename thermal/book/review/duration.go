package review

import (
	"math"

	"example.com/ootherm/thermal/book/stats"
)

// Duration is how long a clutch took, beside the duration that the hatch model
// expects for the heat it felt.
type Duration struct {
	Days        float64 // from laying to hatch, the mean of its eggs
	Expected    float64 // days
	SD          float64 // log days: scatter of one such clutch, its lay interval included
	Implausible bool    // its dates are hardly right; it counts for nothing
}

// LogRatio is the log of the days over those expected: 0.04 is 4 % longer.
func (d Duration) LogRatio() float64 { return math.Log(d.Days / d.Expected) }

// MeanDuration is the mean of several clutches' durations.
type MeanDuration struct {
	Clutches int
	LogRatio float64 // the mean of [Duration.LogRatio]; 0 without clutches
	variance float64 // the sum of the clutches' own
}

func (m MeanDuration) with(d Duration) MeanDuration {
	n := float64(m.Clutches)
	m.LogRatio = (n*m.LogRatio + d.LogRatio()) / (n + 1)
	m.Clutches++
	m.variance += d.SD * d.SD
	return m
}

func (m MeanDuration) plus(o MeanDuration) MeanDuration {
	if n := m.Clutches + o.Clutches; n > 0 {
		m.LogRatio = (float64(m.Clutches)*m.LogRatio + float64(o.Clutches)*o.LogRatio) / float64(n)
	}
	m.Clutches += o.Clutches
	m.variance += o.variance
	return m
}

// sd is the standard error of the mean; 0 without clutches.
func (m MeanDuration) sd() float64 {
	if m.Clutches == 0 {
		return 0
	}
	return math.Sqrt(m.variance) / float64(m.Clutches)
}

// DurationComparison compares the durations of a dam's clutches with those of the
// other dams of her profiles. Whatever all of them share, as the house, cancels in
// the difference.
type DurationComparison struct {
	Dam, Others     MeanDuration
	Diff, Low, High float64 // log, dam less others, with its own 95 % interval
	P               float64
	Adjusted        float64 // P, adjusted for all comparisons of the review (Holm)
}

// Significant reports whether chance alone hardly explains the difference: at 5 %,
// among all comparisons of the review.
func (c DurationComparison) Significant() bool { return c.Adjusted < significance }

// heavyTail is how many standard deviations hold 95 % of durations: their tails
// are heavier than the normal distribution's (measured on the rows behind the
// hatch model, see thermal.Window).
const heavyTail = 2.2

func compareMeans(dam, others MeanDuration) DurationComparison {
	c := DurationComparison{Dam: dam, Others: others, Diff: dam.LogRatio - others.LogRatio}
	sd := math.Hypot(dam.sd(), others.sd())
	c.Low, c.High = c.Diff-heavyTail*sd, c.Diff+heavyTail*sd
	c.P = math.Erfc(math.Abs(c.Diff) / sd * stats.Z95 / heavyTail / math.Sqrt2)
	return c
}
