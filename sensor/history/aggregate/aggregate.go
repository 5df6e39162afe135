// Package aggregate owns what readings come to in hours and days: count, mean, least and most of
// temperature and humidity, and how much of the time was measured. It computes hours from
// readings, writes and reads them in few bytes, and joins them. It must not know where they are
// stored, or what they are used for.
package aggregate

import (
	"iter"
	"math"
	"time"
)

// Statistic is what some values of one quantity come to. Without a value the count is zero and
// the rest is NaN.
type Statistic struct {
	Count             int
	Mean, Least, Most float64
}

// None is the statistic of no value.
func None() Statistic {
	return Statistic{Mean: math.NaN(), Least: math.NaN(), Most: math.NaN()}
}

// plus joins the statistics of two sets of values.
func (s Statistic) plus(t Statistic) Statistic {
	switch {
	case t.Count == 0:
		return s
	case s.Count == 0:
		return t
	}
	n := s.Count + t.Count
	return Statistic{
		Count: n, Mean: s.Mean + (t.Mean-s.Mean)*float64(t.Count)/float64(n),
		Least: min(s.Least, t.Least), Most: max(s.Most, t.Most),
	}
}

// Span is what a probe measured in a span of time: its believed readings that have a
// temperature, as the part gave them.
type Span struct {
	From, To time.Time // To is exclusive
	// Measured is how much of the span lies between readings that are at most the gap limit
	// apart.
	Measured time.Duration
	Celsius  Statistic
	Humidity Statistic // of those that have one; ratios
}

// Plus adds what was measured in another span to a span.
func (a Span) Plus(b Span) Span {
	a.Measured += b.Measured
	a.Celsius, a.Humidity = a.Celsius.plus(b.Celsius), a.Humidity.plus(b.Humidity)
	return a
}

// Daily joins hours to days of a place. An hour belongs to the day in which its middle lies.
func Daily(hours iter.Seq2[Span, error], place *time.Location) iter.Seq2[Span, error] {
	return func(yield func(Span, error) bool) {
		var day *Span
		release := func() bool {
			a := day
			day = nil
			return a == nil || yield(*a, nil)
		}
		for h, err := range hours {
			if err != nil {
				if !release() || !yield(Span{}, err) {
					return
				}
				continue
			}
			y, m, d := h.From.Add(h.To.Sub(h.From) / 2).In(place).Date()
			from := time.Date(y, m, d, 0, 0, 0, 0, place)
			if day != nil && !day.From.Equal(from) && !release() {
				return
			}
			if day == nil {
				day = &Span{From: from, To: time.Date(y, m, d+1, 0, 0, 0, 0, place), Celsius: None(), Humidity: None()}
			}
			*day = day.Plus(h)
		}
		release()
	}
}

// Dated is a span and when it had readings.
type Dated struct {
	Span
	First, Last time.Time // of its readings
}

// Date gives an hour in a boot that began at start and ended at end; end is zero for the boot
// that goes on.
func (h Hour) Date(start, end time.Time) Dated {
	at := func(up int64) time.Time { return start.Add(time.Duration(up) * time.Millisecond) }
	d := Dated{First: at(h.first), Last: at(h.last)}
	d.From, d.To = at(h.index*hourMillis), at((h.index+1)*hourMillis)
	d.Measured = time.Duration(h.measured) * time.Millisecond
	d.Celsius, d.Humidity = h.celsius, h.humidity
	d.EndBy(end)
	return d
}

// EndBy ends a span by the end of its boot, unless that is zero.
func (d *Dated) EndBy(end time.Time) {
	if end.Before(d.To) && end.After(d.From) && !end.Before(d.Last) {
		d.To = end
	}
}

// Join adds what was measured between the last reading of a span and the first of the next.
func (d *Dated) Join(next *Dated, limit time.Duration) {
	if span := next.First.Sub(d.Last); span <= 0 || span > limit {
		return
	}
	if next.First.Before(d.To) {
		d.Measured += next.First.Sub(d.Last)
	} else {
		d.Measured += d.To.Sub(d.Last)
	}
	if !next.From.Before(d.Last) {
		next.Measured += next.First.Sub(next.From)
	}
}
