package book

import "math"

// Pace is how long a clutch took beside what the heat it felt says. What the
// heat says is the model's to reckon, and comes from outside the book.
type Pace struct {
	Days     float64 // from laying to hatch, the mean of its eggs
	Expected float64 // days that the heat they felt says
	SD       float64 // log: how far off one such clutch is by itself, with the dates it was laid between
	Doubted  bool    // its dates are not believed; it counts for nothing
}

// Log is the log of the days over those expected: 0.04 is 4 % longer.
func (p Pace) Log() float64 { return math.Log(p.Days / p.Expected) }

// Paces is the mean of several.
type Paces struct {
	Clutches int
	Log      float64 // the mean, 0 of none
	variance float64 // the sum of the clutches' own
}

func (p Paces) plus(x Pace) Paces {
	n := float64(p.Clutches)
	p.Log = (n*p.Log + x.Log()) / (n + 1)
	p.Clutches++
	p.variance += x.SD * x.SD
	return p
}

func (p Paces) together(o Paces) Paces {
	if n := p.Clutches + o.Clutches; n > 0 {
		p.Log = (float64(p.Clutches)*p.Log + float64(o.Clutches)*o.Log) / float64(n)
	}
	p.Clutches += o.Clutches
	p.variance += o.variance
	return p
}

// sd is how far off the mean is by chance; 0 of none.
func (p Paces) sd() float64 {
	if p.Clutches == 0 {
		return 0
	}
	return math.Sqrt(p.variance) / float64(p.Clutches)
}

// Slower sets the days of a dam's clutches beside those of the other dams of
// her kind. What the two share, as how the house runs, is gone from the
// difference.
type Slower struct {
	Dam, Others     Paces
	Diff, Low, High float64 // log, dam less others, 95 % by itself
	P               float64
	Adjusted        float64 // P, with all comparisons of the review accounted for (Holm)
}

// Stands reports whether the difference is more than chance would show in one
// of so many comparisons, at 5 %.
func (s Slower) Stands() bool { return s.Adjusted < 0.05 }

// heavy is how many standard deviations hold 95 % of durations: their tails are
// heavier than the normal distribution's (measured on the rows behind the hatch
// model, see thermal.Window).
const heavy = 2.2

func slower(dam, others Paces) Slower {
	s := Slower{Dam: dam, Others: others, Diff: dam.Log - others.Log}
	sd := math.Hypot(dam.sd(), others.sd())
	s.Low, s.High = s.Diff-heavy*sd, s.Diff+heavy*sd
	s.P = math.Erfc(math.Abs(s.Diff) / sd * z95 / heavy / math.Sqrt2)
	return s
}
