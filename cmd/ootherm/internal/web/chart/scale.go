package chart

import (
	"math"
	"slices"
	"time"
)

// Scale places values between two ends. From may be over To: then it runs backwards.
type Scale struct{ From, To float64 }

// Share is where a value lies: 0 at From, 1 at To, outside of that beyond them. On a scale
// without length it is 0.5. It is NaN of NaN and of the infinite.
func (s Scale) Share(v float64) float64 {
	switch {
	case math.IsNaN(v) || math.IsInf(v, 0):
		return math.NaN()
	case s.From == s.To:
		return 0.5
	}
	return (v - s.From) / (s.To - s.From)
}

// Seconds is a time as a value of a scale.
func Seconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }

// Span is the scale of a span of time.
func Span(from, to time.Time) Scale { return Scale{Seconds(from), Seconds(to)} }

// Tick is a place on an axis with its text.
type Tick struct {
	At   float64
	Text string
}

// local is a time on the clocks of a place; nil is UTC.
func local(t time.Time, place *time.Location) time.Time {
	if place == nil {
		return t.UTC()
	}
	return t.In(place)
}

// Hours are the whole hours of a span that are multiples of every on the clocks of a place.
// An hour that a clock change leaves out has no tick; one that it repeats has one.
func Hours(from, to time.Time, place *time.Location, every int, text func(time.Time) string) (all []Tick) {
	first := local(from, place)
	for d := 0; ; d++ {
		for h := 0; h < 24; h += max(1, every) {
			at := time.Date(first.Year(), first.Month(), first.Day()+d, h, 0, 0, 0, first.Location())
			if at.After(to) {
				return all
			}
			if !at.Before(from) && at.Hour() == h {
				all = append(all, Tick{Seconds(at), text(at)})
			}
		}
	}
}

// Days are the local midnights of a span, every so many days.
func Days(from, to time.Time, place *time.Location, every int, text func(time.Time) string) (all []Tick) {
	first := local(from, place)
	for d := 0; ; d += max(1, every) {
		at := time.Date(first.Year(), first.Month(), first.Day()+d, 0, 0, 0, 0, first.Location())
		if at.After(to) {
			return all
		}
		if !at.Before(from) {
			all = append(all, Tick{Seconds(at), text(at)})
		}
	}
}

// Months are the first days of the months of a span, on the clocks of a place.
func Months(from, to time.Time, place *time.Location, text func(time.Time) string) (all []Tick) {
	first := local(from, place)
	for m := 0; ; m++ {
		at := time.Date(first.Year(), first.Month()+time.Month(m), 1, 0, 0, 0, 0, first.Location())
		if at.After(to) {
			return all
		}
		if !at.Before(from) {
			all = append(all, Tick{Seconds(at), text(at)})
		}
	}
}

// Thin leaves of ticks every first, second, third and so on, so that two of them are at least
// room apart, a share of the axis.
func Thin(all []Tick, x Scale, room float64) []Tick {
	for step := 1; step <= len(all); step++ {
		var kept []Tick
		for i := 0; i < len(all); i += step {
			kept = append(kept, all[i])
		}
		if apart(kept, x) >= room {
			return kept
		}
	}
	return nil
}

// apart is the least distance of two ticks that follow one another, a share of the axis.
func apart(all []Tick, x Scale) float64 {
	least := math.Inf(1)
	for i := 1; i < len(all); i++ {
		least = min(least, math.Abs(x.Share(all[i].At)-x.Share(all[i-1].At)))
	}
	return least
}

// Room are two ends a little outside the values, at least least apart. Values that are no
// number do not count; of none it is 0 and least.
func Room(least float64, values ...float64) (low, high float64) {
	values = slices.DeleteFunc(slices.Clone(values), func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) })
	if len(values) == 0 {
		return 0, least
	}
	low, high = slices.Min(values), slices.Max(values)
	pad := max((least-(high-low))/2, (high-low)*0.06)
	return low - pad, high + pad
}
