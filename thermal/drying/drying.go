// Package drying learns how fast an egg box loses water. A box loses water in proportion to
// the vapour-pressure deficit of the air around it (diffusion through its lid and its holes:
// Fick's law), so its weighings and the deficit meanwhile give a loss in grams per kPa and
// hour. From that follows what it lost since, at the air it had. It reads a box of the book
// and the deficit of the air. It must not know probes, alarms or how a loss is shown.
package drying

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/thermal/book"
)

const (
	// wateredAtOnce is how soon after a weighing water is poured in that the weighing counts
	// with: who weighs a box waters it then (our choice).
	wateredAtOnce = time.Hour
	// placedWithSetUp is how soon after the set-up an egg is placed that was weighed with it
	// (our assumption, as in the box's water).
	placedWithSetUp = 24 * time.Hour
	// minSpan is the shortest time between two weighings that tells of a loss (our choice): a
	// box loses about a gram a day or less, and a scale is wrong by as much.
	minSpan = 24 * time.Hour
	// maxSpans is how many of the last spans are learned from (our choice): eight weeks of
	// weekly weighings. Lids are changed and eggs grow.
	maxSpans = 8
	// maxGainedG is by how much a box may weigh more at the end of a span, in grams (our
	// choice: twice the error of a scale of whole grams, and its rounding). Beyond it water came
	// that was not noted, or a mass was noted wrongly.
	maxGainedG = 3
)

// Span is the time between two weighings of a box in which nothing but water left it.
type Span struct {
	From, To time.Time
	LostG    float64
	Watered  bool // with the first weighing; so much more is uncertain
}

// Spans are those of the present use of a box, in order, at most the last eight. The set-up
// counts as a weighing where the box was weighed then. A span in which water was added later
// than within an hour of its first weighing, or in which eggs came or went, is left out, and so
// is one of less than a day. So is one that cannot be: the box gained, or lost more than all its water.
func Spans(b book.Box) (all []Span) {
	type mark struct {
		at    time.Time
		grams float64
		after int // weighings up to it
	}
	var marks []mark
	if b.TotalG != nil && !b.SetUp.IsZero() {
		marks = append(marks, mark{b.SetUp, *b.TotalG, 0})
	}
	for i, w := range b.Weighings {
		marks = append(marks, mark{w.At, w.TotalG, i + 1})
	}
	for i := 1; i < len(marks); i++ {
		a, z := marks[i-1], marks[i]
		added, atOnce := addedAtOnce(b, a.at, a.after)
		eggsFrom := a.at
		if a.after == 0 {
			eggsFrom = a.at.Add(placedWithSetUp)
		}
		if !atOnce || z.at.Sub(a.at) < minSpan || eggsCameOrWent(b, eggsFrom, z.at) {
			continue
		}
		s := Span{From: a.at, To: z.at, LostG: a.grams + added - z.grams, Watered: added > 0}
		if s.LostG < -maxGainedG || b.WaterG != nil && s.LostG > *b.WaterG+added {
			continue
		}
		all = append(all, s)
	}
	return all[max(0, len(all)-maxSpans):]
}

// addedAtOnce is the water added after so many weighings. It is false where some of it was not
// added at once after the last of them.
func addedAtOnce(b book.Box, weighed time.Time, weighings int) (grams float64, ok bool) {
	for _, w := range b.Waterings {
		if w.Weighings != weighings {
			continue
		}
		if w.At.Sub(weighed) > wateredAtOnce {
			return 0, false
		}
		grams += w.WaterG
	}
	return grams, true
}

func eggsCameOrWent(b book.Box, from, to time.Time) bool {
	return slices.ContainsFunc(b.Transfers, func(t book.Transfer) bool { return t.At.After(from) && !t.At.After(to) })
}

// Tended is when a box was last weighed or watered; zero where it never was in its present use.
func Tended(b book.Box) (at time.Time) {
	if n := len(b.Weighings); n > 0 {
		at = b.Weighings[n-1].At
	}
	if n := len(b.Waterings); n > 0 && b.Waterings[n-1].At.After(at) {
		at = b.Waterings[n-1].At
	}
	return at
}

// MinSpans is from how many spans a loss is learned (our choice): of one alone nothing tells
// whether it was a slip of the scale.
const MinSpans = 2

const (
	// modelShare is by how much the loss of a span differs from a constant one per kPa and hour
	// although the scale is right, as a ratio, one standard deviation (our choice): the box is
	// opened, moved and turned, and the air at the shelf is not that at the probe.
	modelShare = 0.1
	// huber is from how many standard deviations on a span counts for less (1.5 is the usual
	// choice for Huber's estimator).
	huber = 1.5
	// rounds of the estimator; it settles in about five.
	rounds = 20
	// normal80 is how many standard deviations either side hold 80 % of a normal distribution.
	normal80 = 1.2816
	// maxHalfShare is how wide half of the range may be for the loss to foretell anything, as a
	// ratio of it (our choice).
	maxHalfShare = 0.5
)

// Loss is how fast a box loses water, in grams per kPa and hour, with the range that holds it
// with 80 %.
type Loss struct {
	GPerKPaHour, Low, High float64
	Spans                  int
	UsualKPa               float64 // mean deficit in those spans
}

// Learn takes the loss from spans and the deficit summed over each, in kPa h, NaN where it is
// not known. ScaleG is by how much a weighing is wrong, in grams, one standard deviation. It is
// false where fewer than MinSpans are known, and where the range is too wide to foretell by.
//
// The loss is Huber's estimate of a line through the origin. The range grows with the spans'
// own disagreement. With weekly weighings wrong by up to a gram it held the true loss of 84 to
// 99 % of simulated boxes, the most where little is lost between two weighings.
func Learn(spans []Span, kPaHours []float64, scaleG float64) (Loss, bool) {
	var x []observed
	hours, sum := 0.0, 0.0
	for i, s := range spans {
		if d := kPaHours[i]; d > 0 {
			weighings := 2.0
			if s.Watered {
				weighings++
			}
			x = append(x, observed{lost: s.LostG, dose: d, scale: math.Sqrt(weighings) * scaleG})
			hours, sum = hours+s.To.Sub(s.From).Hours(), sum+d
		}
	}
	if len(x) < MinSpans {
		return Loss{}, false
	}
	k := medianRate(x)
	var information, misfit float64
	for range rounds {
		var top float64
		information, misfit = 0, 0
		for _, o := range x {
			v := o.variance(k)
			r := (o.lost - k*o.dose) / math.Sqrt(v)
			weight := 1.0
			if a := math.Abs(r); a > huber {
				weight = huber / a
			}
			top += weight * o.lost * o.dose / v
			information += weight * o.dose * o.dose / v
			misfit += weight * r * r
		}
		k = top / information
	}
	half := normal80 * math.Sqrt(max(1, misfit/float64(len(x)-1))/information)
	if !(k > 0) || half > maxHalfShare*k {
		return Loss{}, false
	}
	return Loss{GPerKPaHour: k, Low: k - half, High: k + half, Spans: len(x), UsualKPa: sum / hours}, true
}

// observed is a loss in grams at a summed deficit in kPa h, and by how much the scale may be
// wrong of it.
type observed struct{ lost, dose, scale float64 }

func (o observed) variance(k float64) float64 {
	model := modelShare * k * o.dose
	return o.scale*o.scale + model*model
}

// medianRate is the median of the rates, weighted by the deficit: of lines through the origin
// the one with the smallest sum of absolute errors.
func medianRate(x []observed) float64 {
	x = slices.Clone(x)
	slices.SortFunc(x, func(a, b observed) int {
		switch ra, rb := a.lost/a.dose, b.lost/b.dose; {
		case ra < rb:
			return -1
		case ra > rb:
			return 1
		}
		return 0
	})
	total := 0.0
	for _, o := range x {
		total += o.dose
	}
	below := 0.0
	for _, o := range x {
		if below += o.dose; below >= total/2 {
			return o.lost / o.dose
		}
	}
	return 0
}
