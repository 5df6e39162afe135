package track

import (
	"errors"
	"iter"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
)

// togetherSpan is how much of the past is followed for all groups before the next. What was
// read of it is kept in memory, some megabytes (our choice).
const togetherSpan = 2 * 24 * time.Hour

// RebuildExcursions follows groups of eggs, each with its own stays, through the readings up to
// a time. Where groups lay in the same place, each reading is read once. What cannot be read
// counts as not measured; the errors say why.
func RebuildExcursions(p Past, all []*Excursions, stays [][]book.Stay, upTo time.Time) ([]*Excursions, error) {
	if len(all) == 0 {
		return all, nil
	}
	first := upTo
	for _, s := range stays {
		first = earlier(first, s[0].From)
	}
	var failed []error
	end := upTo.Add(1) // the sample at that very time too: it does not come again
	for from := first.Truncate(togetherSpan); from.Before(end); from = from.Add(togetherSpan) {
		shared := sharePast(p)
		for i, x := range all {
			for _, stay := range stays[i] {
				to := earlier(end, from.Add(togetherSpan))
				if !stay.To.IsZero() {
					to = earlier(to, stay.To)
				}
				goesOn := stay.From.Before(from)
				if stay.From = later(stay.From, from); stay.From.Before(to) {
					failed = append(failed, x.stayed(shared, stay, goesOn, to))
				}
			}
		}
	}
	return all, errors.Join(failed...)
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}

// sharedPast keeps the samples that were read of a past.
type sharedPast struct {
	Past
	samples map[sampled][]sampleOrError
}

// sharedSpans is a sharedPast that knows summed pieces.
type sharedSpans struct {
	sharedPast
	Spanned
}

type sampled struct {
	Source
	warmer   float64
	from, to int64 // Unix nanoseconds
}

type sampleOrError struct {
	thermal.Sample
	err error
}

func sharePast(p Past) Past {
	shared := sharedPast{p, map[sampled][]sampleOrError{}}
	if s, ok := p.(Spanned); ok {
		return sharedSpans{shared, s}
	}
	return shared
}

func (p sharedPast) Samples(s Source, warmer float64, from, to time.Time) iter.Seq2[thermal.Sample, error] {
	return func(yield func(thermal.Sample, error) bool) {
		key := sampled{s, warmer, from.UnixNano(), to.UnixNano()}
		known, ok := p.samples[key]
		if !ok {
			for x, err := range p.Past.Samples(s, warmer, from, to) {
				known = append(known, sampleOrError{x, err})
			}
			p.samples[key] = known
		}
		for _, x := range known {
			if !yield(x.Sample, x.err) {
				return
			}
		}
	}
}
