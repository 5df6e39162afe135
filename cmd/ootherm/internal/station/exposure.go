package station

import (
	"errors"
	"math"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
)

// reckoner reads exposures back from the history. It holds nothing that
// changes, so that a worker may use it beside the station.
type reckoner struct {
	past    Past
	zones   map[string][]string // zone: its probes
	correct corrections
	offset  float64 // K, of the box that the source stands for
	fresh   time.Duration
	gap     time.Duration
}

// celsius is what a box feels where a probe reads a raw temperature.
func (r reckoner) celsius(probe string, at time.Time, raw float64) float64 {
	return r.correct.celsius(probe, at, raw) + r.offset
}

// boxed is the reckoner of a box that is so much warmer than its source.
func (r reckoner) boxed(offset float64) reckoner {
	r.offset = offset
	return r
}

func (r reckoner) probesOf(s sourceID) []string {
	if s.probe != "" {
		return []string{s.probe}
	}
	return r.zones[s.zone]
}

// sourceOf says where the temperature of a stay comes from.
func sourceOf(s book.Stay) sourceID {
	if s.Probe != "" {
		return sourceID{probe: s.Probe}
	}
	return sourceID{zone: s.Zone}
}

// A groupTrack is what a group of eggs that were always together has felt, followed as
// readings arrive and rebuilt from the history beside that.
type groupTrack struct {
	source  sourceID // of the present stay
	offset  float64  // K; how much warmer the box is than that source
	done    bool     // that stay is over
	felt    *rebuild.Value[*track, thermal.Sample]
	courses map[string]*rebuild.Value[*course, thermal.Sample] // through the bands of each species among the eggs
}

// newGroupTrack is the track of eggs whose last stay is the one given.
func newGroupTrack(last book.Stay, gap time.Duration) *groupTrack {
	return &groupTrack{
		source: sourceOf(last), offset: last.Offset, done: !last.To.IsZero(), courses: map[string]*rebuild.Value[*course, thermal.Sample]{},
		felt: rebuild.NewValue(&track{done: true}, func(t *track, s thermal.Sample) { t.step(s, gap) }),
	}
}

// see takes the next sample of the source.
func (t *groupTrack) see(s thermal.Sample) {
	s.Celsius += t.offset
	for _, c := range t.courses {
		c.Observe(s)
	}
	t.felt.Observe(s)
}

// drop ends what is still being rebuilt for it.
func (t *groupTrack) drop() {
	for _, c := range t.courses {
		c.Drop()
	}
	t.felt.Drop()
}

// A track is what a group of eggs that were always together has felt since the
// first of their stays began.
type track struct {
	x     thermal.Exposure // through last, or through the end of the last stay
	day   thermal.Exposure // of that, the first day
	last  thermal.Sample   // the last sample of its present source; zero before the first
	began time.Time        // of the first stay
	from  time.Time        // of the present stay
	now   sourceID         // of the present stay

	done bool // the eggs hatched, were lost or left: nothing is added any more
}

// step adds the span from the source's last sample to this one. A sample before that
// is left out.
func (t *track) step(s thermal.Sample, gap time.Duration) {
	if t.done || math.IsNaN(s.Celsius) || s.At.Before(t.last.At) {
		return
	}
	join(&t.x, t.last, s, t.from, gap)
	if end := t.began.Add(24 * time.Hour); t.last.At.Before(end) {
		join(&t.day, t.last, clip(t.last, s, end), t.began, gap)
	}
	t.last = s
}

// upTo is the exposure to a time behind the last sample.
func (t *track) upTo(now time.Time, gap time.Duration) thermal.Exposure {
	if t.done {
		return t.x
	}
	return carried(t.x, t.last, later(t.from, t.last.At), now, gap)
}

// join adds what lies between two neighbouring samples, from a time on: a span
// where it was measured, a gap where it was not. Without a sample before, all
// up to b is a gap.
func join(x *thermal.Exposure, a, b thermal.Sample, from time.Time, gap time.Duration) {
	switch {
	case a.At.IsZero() || math.IsNaN(a.Celsius):
		if b.At.After(from) {
			*x = x.Gap(thermal.Gap{From: from, To: b.At, Before: math.NaN(), After: b.Celsius})
		}
	case !b.At.After(from):
	case b.At.Sub(a.At) > gap || math.IsNaN(b.Celsius):
		*x = x.Gap(thermal.Gap{From: later(a.At, from), To: b.At, Before: a.Celsius, After: b.Celsius})
	default:
		x.Add(between(a, b, later(a.At, from)), b)
	}
}

// between is the sample on the line from a to b at a time.
func between(a, b thermal.Sample, at time.Time) thermal.Sample {
	if !at.After(a.At) || !b.At.After(a.At) {
		return a
	}
	if !at.Before(b.At) {
		return b
	}
	share := float64(at.Sub(a.At)) / float64(b.At.Sub(a.At))
	return thermal.Sample{At: at, Celsius: a.Celsius + share*(b.Celsius-a.Celsius)}
}

// clip ends the span from a to b at a time, if it reaches beyond it.
func clip(a, b thermal.Sample, end time.Time) thermal.Sample {
	if !b.At.After(end) {
		return b
	}
	if a.At.IsZero() || math.IsNaN(a.Celsius) {
		return thermal.Sample{At: end, Celsius: b.Celsius}
	}
	return between(a, b, end)
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// track rebuilds what a group of eggs felt over its stays, up to a time. What cannot
// be read is a gap; the errors say why.
func (r reckoner) track(stays []book.Stay, upTo time.Time) (*track, error) {
	t := &track{began: stays[0].From}
	var failed []error
	dayEnd := t.began.Add(24 * time.Hour)
	for _, stay := range stays {
		to := stay.To
		if to.IsZero() || to.After(upTo) {
			to = upTo
		}
		src := sourceOf(stay)
		r := r.boxed(stay.Offset)
		x, last, err := r.stay(src, stay.From, to, stay.To.IsZero())
		failed = append(failed, err)
		t.x, t.now, t.from, t.last = t.x.Plus(x), src, stay.From, last
		t.done = !stay.To.IsZero()
		if stay.From.Before(dayEnd) {
			end := dayEnd
			if to.Before(end) {
				end = to
			}
			day, _, err := r.stay(src, stay.From, end, false)
			failed = append(failed, err)
			t.day = t.day.Plus(day)
		}
	}
	return t, errors.Join(failed...)
}

// stay is the exposure from one time to another in one place, and the last
// sample it reaches. An open stay ends with that sample; a closed one is
// continued to its end. What cannot be read is a gap; the errors say why.
func (r reckoner) stay(src sourceID, from, to time.Time, open bool) (x thermal.Exposure, last thermal.Sample, err error) {
	last.Celsius = math.NaN()
	if !to.After(from) {
		return x, thermal.Sample{}, nil
	}
	probes := r.probesOf(src)
	if len(probes) == 1 {
		return r.single(probes[0], from, to, open)
	}
	var failed []error
	var a thermal.Sample
	for s, err := range r.samples(src, from.Add(-r.gap), to.Add(r.gap)) {
		if err != nil {
			failed = append(failed, err)
			continue
		}
		if math.IsNaN(s.Celsius) {
			continue
		}
		if s.At.Before(from) {
			a = s
			continue
		}
		if s.At.After(to) {
			if !open {
				join(&x, a, clip(a, s, to), from, r.gap)
				return x, clip(a, s, to), errors.Join(failed...)
			}
			break
		}
		join(&x, a, s, from, r.gap)
		a = s
	}
	x, last = r.close(x, a, from, to, open)
	return x, last, errors.Join(failed...)
}

// close ends a stay behind which nothing was measured.
func (r reckoner) close(x thermal.Exposure, last thermal.Sample, from, to time.Time, open bool) (thermal.Exposure, thermal.Sample) {
	if !open {
		x = carried(x, last, later(from, last.At), to, r.gap)
	}
	return x, last
}

// carried continues an exposure beyond its last sample: as it was for as long
// as that counts as measured, and as a gap with one end beyond that.
func carried(x thermal.Exposure, last thermal.Sample, from, to time.Time, gap time.Duration) thermal.Exposure {
	if !to.After(from) {
		return x
	}
	if last.At.IsZero() {
		return x.Gap(thermal.Gap{From: from, To: to, Before: math.NaN(), After: math.NaN()})
	}
	if to.Sub(last.At) > gap {
		return x.Gap(thermal.Gap{From: from, To: to, Before: last.Celsius, After: math.NaN()})
	}
	return x.Steady(last.Celsius, to.Sub(from))
}

// single is the stay of a box that follows one probe: summaries inside, raw
// readings at the ragged ends.
func (r reckoner) single(probe string, from, to time.Time, open bool) (thermal.Exposure, thermal.Sample, error) {
	end := to
	if open {
		end = to.Add(1) // the sample at that very time too: nobody brings it again
	}
	correct := func(at time.Time, raw float64) float64 { return r.celsius(probe, at, raw) }
	x, first, last, err := r.past.Exposure(probe, from, end, correct)
	failed := []error{err}
	var before, after thermal.Sample
	for p, err := range r.past.Range(probe, from.Add(-r.gap), from) {
		if err != nil {
			failed = append(failed, err)
			continue
		}
		if p.Believed() && !math.IsNaN(p.Celsius) && p.At.Before(from) {
			before = thermal.Sample{At: p.At, Celsius: r.celsius(probe, p.At, p.Celsius)}
		}
	}
	if first.At.IsZero() { // nothing was measured inside
		first, last = before, before
	} else {
		var head thermal.Exposure
		join(&head, before, first, from, r.gap)
		x = head.Plus(x)
	}
	if !open {
		for p, err := range r.past.Range(probe, to, to.Add(r.gap)) {
			if err != nil {
				failed = append(failed, err)
				continue
			}
			if p.Believed() && !math.IsNaN(p.Celsius) {
				after = thermal.Sample{At: p.At, Celsius: r.celsius(probe, p.At, p.Celsius)}
				break
			}
		}
	}
	if after.At.IsZero() {
		x, last = r.close(x, last, from, to, open)
		return x, last, errors.Join(failed...)
	}
	join(&x, last, clip(last, after, to), from, r.gap)
	return x, last, errors.Join(failed...)
}
