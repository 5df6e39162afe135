// Package response owns how the temperature of one probe went in the last hour: how far it
// changed, and whether it jumped as no heated or cooled air does, and holds. It is pure. It must not know
// limits, alarms or where a probe lies.
package response

import (
	"math"
	"time"
)

// All are our choice, unless a source is named.
const (
	binSpan = 2 * time.Minute
	bins    = 31 // an hour, and the newest
	// maxAge is how old the newest reading may be.
	maxAge = 10 * time.Minute
	// minStepKelvin is the least that is a step. A sensor's own noise is below 0.1 K
	// (data sheets of SHT4x, BME280 and DS18B20: repeatability 0.03 to 0.06 K).
	minStepKelvin = 0.8
	// levelBins is how many means must be level on either side of a step, and the mean between
	// them in which it happens. A failed heater goes on falling: with a time constant of
	// twenty minutes, that of a small box, it does half as much again in those minutes.
	levelBins = 4
	// levelRatio is how far from level those means may be, by the step.
	levelRatio     = 0.15
	minLevelKelvin = 0.15
	// settledRatio is how far, by the step, the temperature may go on from the first of the means
	// after it to the newest: a thermostat that hunts goes further.
	settledRatio = 0.05
	// maxStepAge is how long a step is known while the temperature stays level. A
	// [alert.Drift] that compares with the time before it foretells little then.
	maxStepAge = 12 * time.Hour
)

// Memory is how far back readings matter.
const Memory = maxStepAge + bins*binSpan

// Response is the temperature of a probe in the last hour, as means of two minutes, and its
// last step. The zero value is ready, and its size is fixed.
type Response struct {
	ring  [bins]bin
	last  int64   // the newest slot
	step  Step    // while the temperature is level after it; zero: there is none
	after float64 // the mean after the step, C
	low   float64 // the lowest finished mean in the ring, C
	high  float64 // the highest, C
}

// bin sums the readings of two minutes.
type bin struct {
	slot int64 // since the epoch
	n    int
	sum  float64
}

// Step is a change without a time constant.
type Step struct {
	At     time.Time // when it ended, to two minutes
	Kelvin float64   // up is positive
}

// Observe takes a reading in C. One that is older than the newest begins again.
func (r *Response) Observe(at time.Time, celsius float64) {
	slot := at.Unix() / int64(binSpan.Seconds())
	if slot < r.last {
		*r = Response{}
	}
	r.last = slot
	b := &r.ring[slot%bins]
	begins := b.slot != slot
	if begins {
		*b = bin{slot: slot}
	}
	b.n, b.sum = b.n+1, b.sum+celsius
	if begins {
		r.low, r.high = math.Inf(1), math.Inf(-1)
		for before := slot - bins + 1; before < slot; before++ {
			if v := r.at(before); !math.IsNaN(v) {
				r.low, r.high = min(r.low, v), max(r.high, v)
			}
		}
		r.follow(at)
	}
}

// mayHoldStep reports whether the means of the hour differ by as much as a step does.
func (r *Response) mayHoldStep() bool {
	v := r.at(r.last)
	return max(r.high, v)-min(r.low, v) >= minStepKelvin
}

// follow looks for a step, and forgets one after which the temperature is level no more.
func (r *Response) follow(at time.Time) {
	if step, after, found := r.newest(); found {
		r.step, r.after = step, after
		return
	}
	if r.step != (Step{}) && (at.Sub(r.step.At) > maxStepAge || !(math.Abs(r.at(r.last)-r.after) <= levelKelvin(r.step.Kelvin))) {
		r.step = Step{}
	}
}

// levelKelvin is how far from level a temperature may be after a step, K.
func levelKelvin(step float64) float64 { return max(minLevelKelvin, levelRatio*math.Abs(step)) }

// at is the mean of a slot in C; NaN where nothing was measured.
func (r *Response) at(slot int64) float64 {
	if slot < 0 || slot <= r.last-bins {
		return math.NaN()
	}
	b := r.ring[slot%bins]
	if b.slot != slot || b.n == 0 {
		return math.NaN()
	}
	return b.sum / float64(b.n)
}

// Change is how far the temperature changed over a span of up to an hour, in K; NaN where that
// is not known.
func (r *Response) Change(now time.Time, over time.Duration) float64 {
	if now.Unix()-r.last*int64(binSpan.Seconds()) > int64(maxAge.Seconds()) {
		return math.NaN()
	}
	then := r.last - int64(over/binSpan)
	for _, slot := range [...]int64{then, then - 1, then + 1, then - 2, then + 2} { // polls may be minutes apart
		if v := r.at(slot); !math.IsNaN(v) {
			return r.at(r.last) - v
		}
	}
	return math.NaN()
}

// Step is the last step, after which the temperature is still level; false where there is
// none. It takes a reading every two minutes to see one.
func (r *Response) Step(now time.Time) (Step, bool) {
	if now.Unix()-r.last*int64(binSpan.Seconds()) > int64(maxAge.Seconds()) || r.step == (Step{}) {
		return Step{}, false
	}
	return r.step, true
}

// MayJump reports whether the temperature changed as by a step, so lately that it is not known
// yet whether it is level after it.
func (r *Response) MayJump(now time.Time) bool {
	if now.Unix()-r.last*int64(binSpan.Seconds()) > int64(maxAge.Seconds()) {
		return false
	}
	if !r.mayHoldStep() {
		return false
	}
	for first := r.last; first > r.last-levelBins+1; first-- {
		before, after := r.mean(first-levelBins-1, first-2), r.mean(first, r.last)
		level := levelKelvin(after - before)
		if math.Abs(after-before) >= minStepKelvin && r.level(first, r.last, after, level) && r.level(first-levelBins-1, first-2, before, level) {
			return true
		}
	}
	return false
}

// newest is the last step of the hour and the temperature after it, where that is level up to
// now.
func (r *Response) newest() (step Step, celsius float64, found bool) {
	if !r.mayHoldStep() {
		return Step{}, 0, false
	}
	for first := r.last - levelBins + 1; first > r.last-bins+levelBins+1; first-- {
		after := r.mean(first, r.last)
		before := r.mean(first-levelBins-1, first-2)
		size := after - before
		level := levelKelvin(size)
		if math.Abs(size) >= minStepKelvin && r.level(first, r.last, after, level) && r.level(first-levelBins-1, first-2, before, level) {
			if settled := max(minLevelKelvin, settledRatio*math.Abs(size)); math.Abs(r.at(r.last)-r.at(first)) > settled {
				continue
			}
			return Step{At: time.Unix(first*int64(binSpan.Seconds()), 0).UTC(), Kelvin: size}, after, true
		}
	}
	return Step{}, 0, false
}

// mean is the mean of slots; NaN where one was not measured.
func (r *Response) mean(from, to int64) float64 {
	sum := 0.0
	for slot := from; slot <= to; slot++ {
		sum += r.at(slot)
	}
	return sum / float64(to-from+1)
}

// level reports whether all slots are as near to a value.
func (r *Response) level(from, to int64, v, within float64) bool {
	for slot := from; slot <= to; slot++ {
		if !(math.Abs(r.at(slot)-v) <= within) {
			return false
		}
	}
	return true
}
