package track

import (
	"math"
	"time"

	"example.com/ootherm/thermal"
)

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

// Between adds what lies between two neighbouring samples: a span, or a gap where it is longer
// than the limit.
func Between(x *thermal.Exposure, a, b thermal.Sample, gap time.Duration) {
	if b.At.Sub(a.At) > gap {
		*x = x.Gap(thermal.Gap{From: a.At, To: b.At, Before: a.Celsius, After: b.Celsius})
		return
	}
	x.Add(a, b)
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
