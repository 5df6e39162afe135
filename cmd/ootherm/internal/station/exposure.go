package station

import (
	"errors"
	"fmt"
	"math"
	"time"

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

// A track is what a group of eggs that were always together has felt since the
// first of their stays began.
type track struct {
	x       thermal.Exposure   // through last, or through the end of the last stay
	day     thermal.Exposure   // of that, the first day
	last    thermal.Sample     // the last sample of its present source; zero before the first
	began   time.Time          // of the first stay
	from    time.Time          // of the present stay
	now     sourceID           // of the present stay
	offset  float64            // K; how much warmer the box is than that source
	courses map[string]*course // through the bands of each species among the eggs

	done bool // the eggs hatched, were lost or left: nothing is added any more

	rebuilding bool
	waiting    []thermal.Sample // what came while it was rebuilt
}

// see takes the next sample of the source.
func (t *track) see(s thermal.Sample, gap time.Duration) {
	s.Celsius += t.offset
	for _, c := range t.courses {
		c.see(s, gap)
	}
	if t.rebuilding {
		t.waiting = append(t.waiting, s)
		return
	}
	t.step(s, gap)
}

// swap takes over what a worker rebuilt, and what came meanwhile.
func (t *track) swap(rebuilt *track, gap time.Duration) {
	waiting, courses := t.waiting, t.courses
	*t = *rebuilt
	t.courses = courses
	for _, s := range waiting {
		if s.At.After(t.last.At) {
			t.step(s, gap)
		}
	}
}

// step adds the span from the source's last sample to this one.
func (t *track) step(s thermal.Sample, gap time.Duration) {
	if t.done || math.IsNaN(s.Celsius) {
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

// track rebuilds what a group of eggs felt over its stays, up to a time.
func (r reckoner) track(stays []book.Stay, upTo time.Time) (*track, error) {
	if len(stays) == 0 {
		return nil, errors.New("app: eggs that were never placed have no exposure")
	}
	t := &track{began: stays[0].From}
	dayEnd := t.began.Add(24 * time.Hour)
	for _, stay := range stays {
		to := stay.To
		if to.IsZero() || to.After(upTo) {
			to = upTo
		}
		src := sourceOf(stay)
		r := r.boxed(stay.Offset)
		x, last, err := r.stay(src, stay.From, to, stay.To.IsZero())
		if err != nil {
			return nil, fmt.Errorf("app: rebuilding the exposure in box %s: %w", stay.Box, err)
		}
		t.x, t.now, t.offset, t.from, t.last = t.x.Plus(x), src, stay.Offset, stay.From, last
		t.done = !stay.To.IsZero()
		if stay.From.Before(dayEnd) {
			end := dayEnd
			if to.Before(end) {
				end = to
			}
			day, _, err := r.stay(src, stay.From, end, false)
			if err != nil {
				return nil, fmt.Errorf("app: rebuilding the first day in box %s: %w", stay.Box, err)
			}
			t.day = t.day.Plus(day)
		}
	}
	return t, nil
}

// stay is the exposure from one time to another in one place, and the last
// sample it reaches. An open stay ends with that sample; a closed one is
// continued to its end.
func (r reckoner) stay(src sourceID, from, to time.Time, open bool) (x thermal.Exposure, last thermal.Sample, err error) {
	last.Celsius = math.NaN()
	if !to.After(from) {
		return x, thermal.Sample{}, nil
	}
	probes := r.probesOf(src)
	if len(probes) == 1 {
		return r.single(probes[0], from, to, open)
	}
	var a thermal.Sample
	for s, err := range r.samples(src, from.Add(-r.gap), to.Add(r.gap)) {
		if err != nil {
			return thermal.Exposure{}, thermal.Sample{}, err
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
				return x, clip(a, s, to), nil
			}
			break
		}
		join(&x, a, s, from, r.gap)
		a = s
	}
	return r.close(x, a, from, to, open)
}

// close ends a stay behind which nothing was measured.
func (r reckoner) close(x thermal.Exposure, last thermal.Sample, from, to time.Time, open bool) (thermal.Exposure, thermal.Sample, error) {
	if !open {
		x = carried(x, last, later(from, last.At), to, r.gap)
	}
	return x, last, nil
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
	if err != nil {
		return thermal.Exposure{}, thermal.Sample{}, err
	}
	var before, after thermal.Sample
	for p, err := range r.past.Range(probe, from.Add(-r.gap), from) {
		if err != nil {
			return thermal.Exposure{}, thermal.Sample{}, err
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
	if open {
		return r.close(x, last, from, to, true)
	}
	for p, err := range r.past.Range(probe, to, to.Add(r.gap)) {
		if err != nil {
			return thermal.Exposure{}, thermal.Sample{}, err
		}
		if p.Believed() && !math.IsNaN(p.Celsius) {
			after = thermal.Sample{At: p.At, Celsius: r.celsius(probe, p.At, p.Celsius)}
			break
		}
	}
	if after.At.IsZero() {
		return r.close(x, last, from, to, false)
	}
	join(&x, last, clip(last, after, to), from, r.gap)
	return x, last, nil
}
