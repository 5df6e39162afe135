package history

import (
	"math"
	"time"

	"example.com/ootherm/thermal"
)

// Correction is what a raw temperature in Celsius truly was, by the calibration
// in force at a time. At any one time it is a straight line of the raw value. A
// line that changes and changes back within six hours may be overlooked.
type Correction func(at time.Time, raw float64) float64

// Exposure sums what a probe felt from (inclusive) to (exclusive), between its
// first and last believed samples there, which it returns: joining them to what
// lies before and after is the caller's. Without a believed sample their times
// are zero and their temperatures NaN. Spans longer than the gap limit, across
// boots too, are gaps with their bounds.
//
// Whole blocks are summed by their summaries, ragged ends by their readings;
// either way the raw cells of each calibration are summed before they are
// corrected, so the sum is that of the readings. Readings at a ragged end that
// were trimmed or are damaged count as a gap.
func (s *Store) Exposure(probe string, from, to time.Time, correct Correction) (x thermal.Exposure, first, last thermal.Sample, err error) {
	a := adder{limit: s.limit, correct: correct, first: nothing(), last: nothing()}
	r := probeReader{s, probe}
	for at, err := range r.blocks(from, to) {
		if err != nil {
			return thermal.Exposure{}, nothing(), nothing(), err
		}
		t, broken := r.summary(at)
		switch {
		case broken != nil:
		case t == nil || t.held == 0:
			continue
		case !at.time(t.from).Before(from) && at.time(t.to).Before(to):
			if l := a.line(at.time(t.from)); l == a.line(at.time(t.to)) || r.unreadable(at.key) {
				a.block(t, at.start, l)
				continue
			}
		}
		rows, broken := r.rows(at.key)
		if broken != nil {
			continue
		}
		rows = at.rowsBetween(rows, from, to)
		if len(rows) == 0 {
			continue
		}
		l := a.line(at.time(rows[0].up))
		steady := l == a.line(at.time(rows[len(rows)-1].up))
		for _, row := range rows {
			if !row.believed() {
				continue
			}
			sample := mark{row.up, row.celsius}.sample(at.start)
			if !steady {
				l = a.line(sample.At)
			}
			a.sample(sample, l)
		}
	}
	x, first, last = a.total()
	return x, first, last, nil
}

// unreadable reports whether a block's readings were trimmed or are damaged.
func (r probeReader) unreadable(k key) bool {
	rows, err := r.rows(k)
	return err != nil || len(rows) == 0
}

func nothing() thermal.Sample { return thermal.Sample{Celsius: math.NaN()} }

// line is a calibration at one time.
type line struct{ gain, offset float64 }

func (l line) of(raw thermal.Sample) thermal.Sample {
	return thermal.Sample{At: raw.At, Celsius: l.gain*raw.Celsius + l.offset}
}

// adder sums samples and whole blocks in order of time.
type adder struct {
	limit   time.Duration
	correct Correction

	done        thermal.Exposure // corrected
	raw         thermal.Exposure // since the line last changed
	by          line
	prev        thermal.Sample // raw
	any         bool
	first, last thermal.Sample // corrected
}

func (a *adder) line(at time.Time) line {
	if a.correct == nil {
		return line{gain: 1}
	}
	zero := a.correct(at, 0)
	// Over a power of two the gain of a plain offset comes out as one.
	return line{(a.correct(at, 64) - zero) / 64, zero}
}

func (a *adder) sample(raw thermal.Sample, l line) {
	switch {
	case !a.any:
		a.any, a.by, a.first = true, l, l.of(raw)
	case l == a.by:
		a.between(&a.raw, a.prev, raw)
	default:
		a.done = a.done.Plus(a.raw.Map(a.by.gain, a.by.offset))
		a.between(&a.done, a.by.of(a.prev), l.of(raw))
		a.raw, a.by = thermal.Exposure{}, l
	}
	a.prev, a.last = raw, l.of(raw)
}

func (a *adder) between(x *thermal.Exposure, p, q thermal.Sample) {
	if q.At.Sub(p.At) > a.limit {
		*x = x.Gap(thermal.Gap{From: p.At, To: q.At, Before: p.Celsius, After: q.Celsius})
		return
	}
	x.Add(p, q)
}

func (a *adder) block(t *sum, start time.Time, l line) {
	a.sample(t.first.sample(start), l)
	a.raw = a.raw.Plus(t.exposure(start))
	a.prev = t.last.sample(start)
	a.last = l.of(a.prev)
}

func (a *adder) total() (x thermal.Exposure, first, last thermal.Sample) {
	return a.done.Plus(a.raw.Map(a.by.gain, a.by.offset)), a.first, a.last
}
