// Package mixedmodel owns the arithmetic of a mixed model of two numbers, a level and a
// slope, whose effects are nested: order, family, genus, species. It pools what was
// measured of species up the tree and predicts a species down it. It must not know
// durations, temperatures or files.
package mixedmodel

import "math"

// Pair is a level and a slope.
type Pair struct{ Level, Slope float64 }

// Message is what data say of a pair: a Gaussian likelihood, in the form
// exp(Constant + Weight.x - x.Precision.x/2). The zero Message says nothing.
type Message struct {
	LevelLevel, LevelSlope, SlopeSlope float64 // precision
	Weight                             Pair
	Constant                           float64
}

// Plus is both messages together.
func (m Message) Plus(o Message) Message {
	return Message{
		m.LevelLevel + o.LevelLevel, m.LevelSlope + o.LevelSlope, m.SlopeSlope + o.SlopeSlope,
		Pair{m.Weight.Level + o.Weight.Level, m.Weight.Slope + o.Weight.Slope}, m.Constant + o.Constant,
	}
}

// Shift is the message of the pair less by.
func (m Message) Shift(by Pair) Message {
	p := m.times(by)
	m.Constant += m.Weight.Level*by.Level + m.Weight.Slope*by.Slope - (by.Level*p.Level+by.Slope*p.Slope)/2
	m.Weight.Level -= p.Level
	m.Weight.Slope -= p.Slope
	return m
}

func (m Message) times(p Pair) Pair {
	return Pair{m.LevelLevel*p.Level + m.LevelSlope*p.Slope, m.LevelSlope*p.Level + m.SlopeSlope*p.Slope}
}

// Through is what a message says of a pair from which its own differs at random, with
// independent variances of the level and of the slope.
func (m Message) Through(variance Pair) Message {
	// A = I + V P; P' = P A^-1, w' = A^-T w, with A^-1 = [d -b; -c a] / det.
	a, b := 1+variance.Level*m.LevelLevel, variance.Level*m.LevelSlope
	c, d := variance.Slope*m.LevelSlope, 1+variance.Slope*m.SlopeSlope
	det := a*d - b*c
	w := Pair{(d*m.Weight.Level - c*m.Weight.Slope) / det, (a*m.Weight.Slope - b*m.Weight.Level) / det}
	return Message{
		LevelLevel: (m.LevelLevel*d - m.LevelSlope*c) / det,
		LevelSlope: (m.LevelSlope*a - m.LevelLevel*b) / det,
		SlopeSlope: (m.SlopeSlope*a - m.LevelSlope*b) / det,
		Weight:     w,
		Constant: m.Constant - math.Log(det)/2 +
			(variance.Level*m.Weight.Level*w.Level+variance.Slope*m.Weight.Slope*w.Slope)/2,
	}
}

// Normal is a normal distribution of a pair.
type Normal struct {
	Mean                               Pair
	LevelLevel, LevelSlope, SlopeSlope float64 // covariance
}

// Given is the distribution after a message.
func (n Normal) Given(m Message) Normal {
	// C' = (I + C P)^-1 C
	a, b := 1+n.LevelLevel*m.LevelLevel+n.LevelSlope*m.LevelSlope, n.LevelLevel*m.LevelSlope+n.LevelSlope*m.SlopeSlope
	c, d := n.LevelSlope*m.LevelLevel+n.SlopeSlope*m.LevelSlope, 1+n.LevelSlope*m.LevelSlope+n.SlopeSlope*m.SlopeSlope
	det := a*d - b*c
	out := Normal{
		LevelLevel: (d*n.LevelLevel - b*n.LevelSlope) / det,
		LevelSlope: (d*n.LevelSlope - b*n.SlopeSlope) / det,
		SlopeSlope: (a*n.SlopeSlope - c*n.LevelSlope) / det,
	}
	p := m.times(n.Mean)
	r := Pair{m.Weight.Level - p.Level, m.Weight.Slope - p.Slope}
	out.Mean.Level = n.Mean.Level + out.LevelLevel*r.Level + out.LevelSlope*r.Slope
	out.Mean.Slope = n.Mean.Slope + out.LevelSlope*r.Level + out.SlopeSlope*r.Slope
	return out
}

// Through is the distribution of a pair that differs from this one at random.
func (n Normal) Through(variance Pair) Normal {
	n.LevelLevel += variance.Level
	n.SlopeSlope += variance.Slope
	return n
}

// Measured is a level that was measured with this standard deviation so much below the
// place of the pair, along its slope.
func Measured(level, sd, below float64) Message {
	p := 1 / (sd * sd)
	// The level there is that of the pair plus below times the slope.
	return Message{
		LevelLevel: p, LevelSlope: p * below, SlopeSlope: p * below * below,
		Weight: Pair{p * level, p * below * level},
	}
}

// MeasuredSlope is a slope that was measured with this standard deviation.
func MeasuredSlope(slope, sd float64) Message {
	p := 1 / (sd * sd)
	return Message{SlopeSlope: p, Weight: Pair{Slope: p * slope}}
}
