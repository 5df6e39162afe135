package thermal

import (
	"math"
	"time"
)

// Stages is the number of equal parts of the development, laying to hatch: it tells
// how far the eggs were when they were outside a band.
const Stages = 10

// Beyond is the time on the wrong side of a limit, as the World Health
// Organization's temperature devices count it: in all (cumulative) and in one
// stretch (single event).
type Beyond struct {
	Cumulative  time.Duration
	Longest     time.Duration // the longest single event
	Events      int
	DegreeHours float64 // kelvin beyond the limit, times hours
	Most        float64 // K beyond the limit at the worst
}

// Excess sums the time beyond one limit. It is a value; [Excess.Span] returns
// another. The zero Excess has no limit: make one with [Over] or [Under].
type Excess struct {
	limit   float64
	sign    float64 // +1: warmer is beyond, -1: colder is
	running time.Duration
	total   Beyond
	stages  [Stages]Beyond
}

// Over sums the time warmer than a limit in Celsius.
func Over(limit float64) Excess { return Excess{limit: limit, sign: 1} }

// Under sums the time colder than a limit in Celsius.
func Under(limit float64) Excess { return Excess{limit: limit, sign: -1} }

// Span adds the time between two successive samples, along the straight line
// between them, with eggs that are a share (0..1) of the way. Do not add a span in
// which nothing was measured: the event goes on if the next span is beyond the
// limit too.
func (e Excess) Span(a, b Sample, developed float64) Excess {
	e.Add(a, b, developed)
	return e
}

// Add is Span in place, for the sample step.
func (e *Excess) Add(a, b Sample, developed float64) {
	from, to := e.sign*(a.Celsius-e.limit), e.sign*(b.Celsius-e.limit)
	if !b.At.After(a.At) || math.IsNaN(from) || math.IsNaN(to) {
		return
	}
	if from <= 0 && to <= 0 { // nearly always
		e.running = 0
		return
	}
	d := b.At.Sub(a.At)
	stage := &e.stages[min(max(int(developed*Stages), 0), Stages-1)]
	switch {
	case from > 0 && to > 0:
		e.beyond(stage, d, from, to)
	case to > 0:
		e.running = 0
		e.beyond(stage, shareOf(d, to/(to-from)), 0, to)
	default:
		e.beyond(stage, shareOf(d, from/(from-to)), from, 0)
		e.running = 0
	}
}

func shareOf(d time.Duration, share float64) time.Duration {
	return time.Duration(math.Round(float64(d) * share))
}

func (e *Excess) beyond(stage *Beyond, d time.Duration, from, to float64) {
	begun := e.running == 0
	e.running += d
	for _, b := range [...]*Beyond{&e.total, stage} {
		if begun {
			b.Events++
		}
		b.Cumulative += d
		b.Longest = max(b.Longest, e.running)
		b.DegreeHours += (from + to) / 2 * d.Hours()
		b.Most = max(b.Most, from, to)
	}
}

// Total is the time beyond the limit in all stages.
func (e Excess) Total() Beyond { return e.total }

// Stage is the time beyond the limit in one tenth of the way, 0 to Stages-1. An
// event counts in the stage in which it began, with its length at that stage's end.
func (e Excess) Stage(i int) Beyond { return e.stages[i] }

// Running is the length of the present event so far, 0 when there is none.
func (e Excess) Running() time.Duration { return e.running }
