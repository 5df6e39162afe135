package thermal

import (
	"math"
	"time"
)

// Need is a belief in the log of the heat that eggs need, as part of a mixture.
type Need struct {
	Weight float64
	// Mean and Covariance are of the log days at the usual temperature, dam and clutch
	// included; the slope; the bend; and the bias of each probe, kelvin.
	Mean       []float64
	Covariance [][]float64
	Egg        float64 // scatter of one egg, log days
	// Unlearned is the variance of the clutch's own offset over what it was before any of
	// its eggs told something of it, 0..1.
	Unlearned float64
	// Published is the variance of the need over what it was before any hatch in this house,
	// 0..1: the tails of published durations are heavy (see heavyTail), those of eggs beside
	// one another are in the mixture.
	Published float64
}

// Eggs is what is known of the eggs of one group that wait, beside the heat that they
// felt. Heat that they have met without a hatch is no part of it.
type Eggs struct {
	Waiting int // how many, at least 1
	// Open is what check-from and late-after are made of: what hatched, and what other
	// clutches said up to the last event.
	Open []Need
	// Now is what the likely day is made of: what other clutches say until now.
	Now []Need
	// Look is the last look that would have shown a hatch.
	Look time.Time
	// Alive is how likely it is that so many of the others that wait are alive; nil: all.
	Alive []float64
	// Shares is how much of the past heat each probe measured, in the order of their
	// biases. What is to come is the first one's.
	Shares []float64
	// Lay, Gaps and Box are variances in the need, log days squared: by the lay interval,
	// by what was not measured and by a box without a probe.
	Lay, Gaps, Box float64
	// Known says what the belief rests on.
	Known string
}

// eggs is what a belief alone says of the eggs with this heat: one that waits, and whose
// hatch would have been seen until now.
func (o *Outlook) eggs(h Heat) Eggs {
	b := o.belief
	need := math.Exp(b.LogDays + b.House + b.Dam)
	before, since := o.sum.Exposure(&h.Before, o.coming.mean), o.sum.Exposure(&h.Since, o.coming.mean)
	lay := before.Days() / need
	heat := math.Max(need, before.Days()/2+since.Days()) // heat beyond the need adds no error
	e := Eggs{
		Waiting: 1, Look: o.now, Shares: []float64{1}, Known: b.Known(),
		Lay: lay * lay / 12, Gaps: (since.GapVariance() + before.GapVariance()/4) / (heat * heat),
	}
	flat := [...]int{iLevel, iHouse, iDam}
	n := Need{Weight: 1, Mean: []float64{b.LogDays + b.House + b.Dam, b.Slope, b.Bend, 0}, Egg: math.Sqrt(EggSD*EggSD - DamSD*DamSD), Unlearned: 1, Published: 1}
	n.Covariance = [][]float64{make([]float64, 4), make([]float64, 4), make([]float64, 4), {0, 0, 0, h.ProbeSD * h.ProbeSD}}
	for _, i := range flat {
		for _, j := range flat {
			n.Covariance[0][0] += b.Covariance[i][j]
		}
		n.Covariance[0][1] += b.Covariance[i][iSlope]
		n.Covariance[0][2] += b.Covariance[i][iBend]
	}
	misfit := b.misfit()
	n.Covariance[0][0] += misfit*misfit + e.Lay + e.Gaps
	n.Covariance[1][0], n.Covariance[2][0] = n.Covariance[0][1], n.Covariance[0][2]
	n.Covariance[1][1], n.Covariance[2][2] = b.Covariance[iSlope][iSlope], b.Covariance[iBend][iBend]
	n.Covariance[1][2], n.Covariance[2][1] = b.Covariance[iSlope][iBend], b.Covariance[iBend][iSlope]
	e.Open = []Need{n}
	e.Now = e.Open
	return e
}

// Numbers are the means of the level, the slope and the bend, and their covariance, in
// which the level has the model's misfit of a treatment.
func (b Belief) Numbers() (mean [3]float64, covariance [3][3]float64) {
	mean = [3]float64{b.LogDays, b.Slope, b.Bend}
	for i := range covariance {
		copy(covariance[i][:], b.Covariance[i][:3])
	}
	covariance[iLevel][iLevel] += b.misfit() * b.misfit()
	return mean, covariance
}
