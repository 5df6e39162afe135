package track

import (
	"errors"
	"iter"
	"math"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
)

// Past reads what sources of temperature did, in C. Warmer, in K, is added to each
// temperature: by so much a box is warmer than its source.
type Past interface {
	// Samples yields the samples from (inclusive) to (exclusive), in order of time. An
	// error stands where samples are missing; those after it follow.
	Samples(s Source, warmer float64, from, to time.Time) iter.Seq2[thermal.Sample, error]
	// Exposure sums the span between the first and the last sample from (inclusive) to
	// (exclusive), which it returns; without a sample their times are zero. It sums as
	// far as it can beside an error. A source without sums, ok false, is read by its
	// samples.
	Exposure(s Source, warmer float64, from, to time.Time) (x thermal.Exposure, first, last thermal.Sample, ok bool, err error)
}

// Span is what a source did from one of its samples to another, or one sample.
type Span struct {
	First, Last thermal.Sample
	Least, Most float64          // C
	Felt        thermal.Exposure // between First and Last
}

// Spanned is a Past that also knows summed pieces of it.
type Spanned interface {
	// Spans yields what Samples does in longer pieces, in order of time. Samples that are NaN
	// are left out.
	Spans(s Source, warmer float64, from, to time.Time) iter.Seq2[Span, error]
}

// Track is what a group of eggs that were always together has felt since the first of
// their stays began.
type Track struct {
	gap   time.Duration    // a longer span was not measured
	x     thermal.Exposure // through last, or through the end of the last stay
	day   thermal.Exposure // of that, the first day
	last  thermal.Sample   // the last sample of the present source; zero before the first
	began time.Time        // of the first stay
	from  time.Time        // of the present stay
	done  bool             // the eggs hatched, were lost or left: nothing is added any more
}

// Began is when the first stay began.
func (t *Track) Began() time.Time { return t.began }

// FirstDay is the exposure of the first day in a box.
func (t *Track) FirstDay() thermal.Exposure { return t.day }

// Observe adds the span from the source's last sample to this one. A sample before that
// is left out.
func (t *Track) Observe(s thermal.Sample) {
	if t.done || math.IsNaN(s.Celsius) || s.At.Before(t.last.At) {
		return
	}
	join(&t.x, t.last, s, t.from, t.gap)
	if end := t.began.Add(24 * time.Hour); t.last.At.Before(end) {
		join(&t.day, t.last, clip(t.last, s, end), t.began, t.gap)
	}
	t.last = s
}

// UpTo is the exposure to a time behind the last sample.
func (t *Track) UpTo(now time.Time) thermal.Exposure {
	if t.done {
		return t.x
	}
	return carried(t.x, t.last, later(t.from, t.last.At), now, t.gap)
}

// Empty is a track that takes nothing and holds nothing.
func Empty() *Track { return &Track{done: true} }

// Rebuild is what eggs with these stays, at least one, felt up to a time. A span longer
// than gap was not measured. What cannot be read is a gap; the errors say why.
func Rebuild(p Past, stays []book.Stay, upTo time.Time, gap time.Duration) (*Track, error) {
	t := &Track{began: stays[0].From, gap: gap}
	var failed []error
	dayEnd := t.began.Add(24 * time.Hour)
	for _, stay := range stays {
		to := stay.To
		if to.IsZero() || to.After(upTo) {
			to = upTo
		}
		x, last, err := stayed(p, stay, stay.From, to, stay.To.IsZero(), gap)
		failed = append(failed, err)
		t.x, t.from, t.last = t.x.Plus(x), stay.From, last
		t.done = !stay.To.IsZero()
		if stay.From.Before(dayEnd) {
			end := dayEnd
			if to.Before(end) {
				end = to
			}
			day, _, err := stayed(p, stay, stay.From, end, false, gap)
			failed = append(failed, err)
			t.day = t.day.Plus(day)
		}
	}
	return t, errors.Join(failed...)
}

// Stay is the exposure of a box from one time of a stay to another. What cannot be read
// is a gap; the errors say why.
func Stay(p Past, stay book.Stay, gap time.Duration) (thermal.Exposure, error) {
	x, _, err := stayed(p, stay, stay.From, stay.To, false, gap)
	return x, err
}

// stayed is the exposure from one time to another in one place, and the last sample it
// reaches. An open stay ends with that sample; a closed one is continued to its end.
func stayed(p Past, stay book.Stay, from, to time.Time, open bool, gap time.Duration) (x thermal.Exposure, last thermal.Sample, err error) {
	last.Celsius = math.NaN()
	if !to.After(from) {
		return x, thermal.Sample{}, nil
	}
	src := SourceOf(stay)
	end := to
	if open {
		end = to.Add(1) // the sample at that very time too: it does not come again
	}
	x, first, last, ok, err := p.Exposure(src, stay.Offset, from, end)
	if !ok {
		return bySamples(p, stay, from, to, open, gap)
	}
	failed := []error{err}
	var before, after thermal.Sample
	for s, err := range p.Samples(src, stay.Offset, from.Add(-gap), from) {
		if err != nil {
			failed = append(failed, err)
		} else if !math.IsNaN(s.Celsius) {
			before = s
		}
	}
	if first.At.IsZero() { // nothing was measured inside
		first, last = before, before
	} else {
		var head thermal.Exposure
		join(&head, before, first, from, gap)
		x = head.Plus(x)
	}
	if open {
		return x, last, errors.Join(failed...)
	}
	// A zone's value comes from the last readings of all its probes: read those before too.
	for s, err := range p.Samples(src, stay.Offset, to.Add(-gap), to.Add(gap)) {
		if err != nil {
			failed = append(failed, err)
		} else if !s.At.Before(to) && !math.IsNaN(s.Celsius) {
			after = s
			break
		}
	}
	if after.At.IsZero() {
		x = carried(x, last, later(from, last.At), to, gap)
	} else {
		join(&x, last, clip(last, after, to), from, gap)
	}
	return x, last, errors.Join(failed...)
}

// bySamples is stayed of a source without sums.
func bySamples(p Past, stay book.Stay, from, to time.Time, open bool, gap time.Duration) (x thermal.Exposure, last thermal.Sample, err error) {
	var failed []error
	for s, err := range p.Samples(SourceOf(stay), stay.Offset, from.Add(-gap), to.Add(gap)) {
		switch {
		case err != nil:
			failed = append(failed, err)
			continue
		case math.IsNaN(s.Celsius):
			continue
		case s.At.Before(from):
			last = s
			continue
		case s.At.After(to) && open:
			return x, last, errors.Join(failed...)
		case s.At.After(to):
			s = clip(last, s, to)
			join(&x, last, s, from, gap)
			return x, s, errors.Join(failed...)
		}
		join(&x, last, s, from, gap)
		last = s
	}
	if !open {
		x = carried(x, last, later(from, last.At), to, gap)
	}
	return x, last, errors.Join(failed...)
}
