package pastreadings

import (
	"errors"
	"iter"
	"maps"
	"math"
	"slices"
	"sync"
	"time"

	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/track"
)

const (
	// blockMillis is the length of a block of a source's past: that of the history's blocks.
	blockMillis = int64(6 * time.Hour / time.Millisecond)
	// settledAfter is how old a reading is when none before it can still arrive: buses answer
	// one after the other, and readings wait while the station starts (our choice).
	settledAfter = time.Hour
)

// block is what a source did in a whole block of time. It is computed once and serves all
// eggs there.
type block struct {
	first, last thermal.Sample // zero times where nothing was measured
	least, most float64        // C
	felt        []byte         // the exposure between first and last, encoded
	unread      bool           // an error of a read touches it: it has samples alone
}

// blocks are the blocks of the sources that are known, for any goroutine.
type blocks struct {
	mu sync.Mutex
	of map[blockSource]map[int64]block
}

// blockSource is a source, and by how much a box is warmer.
type blockSource struct {
	track.Source
	warmer float64
}

func newBlocks() *blocks { return &blocks{of: map[blockSource]map[int64]block{}} }

// sources are those that have blocks.
func (b *blocks) sources() []blockSource {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Collect(maps.Keys(b.of))
}

// Forget drops what is known of the past: its readings have other times now.
func (p *Past) Forget() { p.blocks.Store(newBlocks()) }

// Spans gives what Samples gives, in whole blocks where they are known.
func (r Reader) Spans(s track.Source, warmer float64, from, to time.Time) iter.Seq2[track.Span, error] {
	r.warmer = warmer
	if probes := r.Probes(s); len(probes) == 1 {
		return r.spansOfProbe(s, probes[0], from, to)
	}
	end := to
	if end.After(r.settled) {
		end = r.settled
	}
	lo, hi := (from.UnixMilli()+blockMillis-1)/blockMillis, end.UnixMilli()/blockMillis
	if from.UnixMilli() < 0 || hi <= lo {
		return r.spansOfSamples(s, from, to)
	}
	return func(yield func(track.Span, error) bool) {
		known := r.known(s, lo, hi)
		if !yieldAll(r.spansOfSamples(s, from, startOf(lo)), yield) {
			return
		}
		for i, b := range known {
			at := lo + int64(i)
			if b.unread && !yieldAll(r.spansOfSamples(s, startOf(at), startOf(at+1)), yield) {
				return
			}
			if b.unread || b.first.At.IsZero() {
				continue
			}
			x := track.Span{First: b.first, Last: b.last, Least: b.least, Most: b.most}
			err := x.Felt.UnmarshalBinary(b.felt)
			if !yield(x, err) {
				return
			}
		}
		yieldAll(r.spansOfSamples(s, startOf(hi), to), yield)
	}
}

// yieldAll yields spans, and reports whether more are asked for.
func yieldAll(spans iter.Seq2[track.Span, error], yield func(track.Span, error) bool) bool {
	for x, err := range spans {
		if !yield(x, err) {
			return false
		}
	}
	return true
}

func startOf(block int64) time.Time { return time.UnixMilli(block * blockMillis).UTC() }

// spansOfSamples gives each sample as a span. A zone has its probes' readings before it.
func (r Reader) spansOfSamples(s track.Source, from, to time.Time) iter.Seq2[track.Span, error] {
	return func(yield func(track.Span, error) bool) {
		if !from.Before(to) {
			return
		}
		for v, err := range r.values(s, from.Add(-r.Gap), to) {
			if err == nil && (v.At.Before(from) || math.IsNaN(v.Celsius)) {
				continue
			}
			x := thermal.Sample{At: v.At, Celsius: v.Celsius}
			if !yield(track.Span{First: x, Last: x, Least: x.Celsius, Most: x.Celsius}, err) {
				return
			}
		}
	}
}

// spansOfProbe gives what the history's summaries say of a source with one probe, and its
// samples at the ends and where a correction changes.
func (r Reader) spansOfProbe(s track.Source, probe string, from, to time.Time) iter.Seq2[track.Span, error] {
	return func(yield func(track.Span, error) bool) {
		samples := func(from, to time.Time) bool { return yieldAll(r.spansOfSamples(s, from, to), yield) }
		for sum, err := range r.history.Summaries(probe, from, to) {
			d, more := new(history.Damage), true
			switch {
			case errors.As(err, &d):
				more = samples(later(from, d.From), earlier(to, d.To))
			case err != nil:
				more = yield(track.Span{}, err)
			case sum.From.Before(from) || !sum.To.Before(to) || sum.Believed > 0 && !r.steady(probe, sum):
				more = samples(later(from, sum.From), earlier(to, sum.To.Add(1)))
			case sum.Believed > 0:
				more = yield(r.corrected(probe, sum), nil)
			}
			if !more {
				return
			}
		}
	}
}

// steady reports whether one correction holds through a summary.
func (r Reader) steady(probe string, sum history.Summary) bool {
	return r.correct.At(probe, sum.From) == r.correct.At(probe, sum.To)
}

// corrected is a summary as a span.
func (r Reader) corrected(probe string, sum history.Summary) track.Span {
	at := sum.First.At
	of := func(raw float64) float64 { return r.celsius(probe, at, raw) }
	offset := of(0)
	return track.Span{
		First: thermal.Sample{At: at, Celsius: of(sum.First.Celsius)}, Last: thermal.Sample{At: sum.Last.At, Celsius: of(sum.Last.Celsius)},
		Least: of(sum.Least), Most: of(sum.Most),
		// Over a power of two the gain of a plain offset comes out as one.
		Felt: sum.Exposure.Map((of(64)-offset)/64, offset),
	}
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// known gives the blocks of a source from one to before another, and computes those that are
// missing: each run of them in one pass.
func (r Reader) known(s track.Source, lo, hi int64) []block {
	key := blockSource{s, r.warmer}
	r.blocks.mu.Lock()
	defer r.blocks.mu.Unlock()
	of := r.blocks.of[key]
	if of == nil {
		of = map[int64]block{}
		r.blocks.of[key] = of
	}
	for at := lo; at < hi; at++ {
		if _, ok := of[at]; !ok {
			maps.Copy(of, r.load(s, at, hi))
			break
		}
	}
	known := make([]block, 0, hi-lo)
	for at := lo; at < hi; {
		if b, ok := of[at]; ok {
			known = append(known, b)
			at++
			continue
		}
		end := at + 1
		for _, ok := of[end]; end < hi && !ok; _, ok = of[end] {
			end++
		}
		computed := r.read(s, at, end)
		r.keep(s, at, computed)
		for i, b := range computed {
			of[at+int64(i)] = b
			known = append(known, b)
		}
		at = end
	}
	return known
}

// read computes blocks of a source from its readings.
func (r Reader) read(s track.Source, lo, hi int64) []block {
	all := make([]block, hi-lo)
	at := lo // the block of the last value, or the one that may miss what an error stands for
	var felt thermal.Exposure
	failed := false
	settle := func(upTo int64) {
		b := &all[at-lo]
		if !b.first.At.IsZero() {
			b.felt, _ = felt.AppendBinary(nil) // its error is always nil
		}
		for i := at; failed && i <= upTo && i < hi; i++ {
			all[i-lo] = block{unread: true}
		}
		felt, failed = thermal.Exposure{}, false
	}
	for v, err := range r.values(s, startOf(lo).Add(-r.Gap), startOf(hi)) {
		if err != nil {
			failed = true
			continue
		}
		here := v.At.UnixMilli() / blockMillis
		if here < lo || math.IsNaN(v.Celsius) {
			continue
		}
		if here > at || failed {
			settle(here)
			at = here
		}
		b, x := &all[here-lo], thermal.Sample{At: v.At, Celsius: v.Celsius}
		if b.unread {
			continue
		}
		if b.first.At.IsZero() {
			b.first, b.least, b.most = x, x.Celsius, x.Celsius
		} else {
			track.Between(&felt, b.last, x, r.Gap)
			b.least, b.most = min(b.least, x.Celsius), max(b.most, x.Celsius)
		}
		b.last = x
	}
	settle(hi - 1)
	return slices.Clip(all)
}
