package track

import (
	"errors"
	"math"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/profile"
)

// Limit is one end of a species' band.
type Limit struct {
	Band    string // safe or wanted
	Celsius float64
	Warm    bool // warmer is past it
}

// Limits are the ends of the bands of a species.
func Limits(p profile.Profile) []Limit {
	var all []Limit
	for _, b := range [...]struct {
		name string
		of   profile.Band
	}{{"safe", p.Safe}, {"wanted", p.Wanted}} {
		if b.of == (profile.Band{}) {
			continue
		}
		if !math.IsInf(b.of.High, 1) {
			all = append(all, Limit{b.name, b.of.High, true})
		}
		if !math.IsInf(b.of.Low, -1) {
			all = append(all, Limit{b.name, b.of.Low, false})
		}
	}
	return all
}

// Excursions follow eggs of one species through the limits of its bands, with how
// far along they were at the time. What was not measured moves them on, and is
// neither inside nor outside.
type Excursions struct {
	gap    time.Duration // a longer span was not measured
	limits []Limit
	excess []thermal.Excess // one a limit
	rate   thermal.Rate
	before float64 // share of the way, when the first stay began
	share  float64 // and since
	last   thermal.Sample
}

// NewExcursions begins with eggs that have gone a share of their way before their first
// stay, and that develop at a rate.
func NewExcursions(p profile.Profile, rate thermal.Rate, before float64, gap time.Duration) *Excursions {
	c := &Excursions{limits: Limits(p), rate: rate, before: before, gap: gap}
	for _, l := range c.limits {
		if l.Warm {
			c.excess = append(c.excess, thermal.Over(l.Celsius))
		} else {
			c.excess = append(c.excess, thermal.Under(l.Celsius))
		}
	}
	return c
}

// Observe takes the next sample; one before the last is left out.
func (c *Excursions) Observe(s thermal.Sample) {
	if math.IsNaN(s.Celsius) || s.At.Before(c.last.At) {
		return
	}
	last := c.last
	c.last = s
	d := s.At.Sub(last.At)
	if last.At.IsZero() || d <= 0 {
		return
	}
	if d <= c.gap {
		for i := range c.excess {
			c.excess[i] = c.excess[i].Span(last, s, c.before+c.share)
		}
	}
	c.share += c.rate.PerDay((last.Celsius+s.Celsius)/2) * d.Hours() / 24
}

// RebuildExcursions follows eggs through the readings of their stays up to a time. What
// cannot be read counts as not measured; the errors say why.
func RebuildExcursions(p Past, x *Excursions, stays []book.Stay, upTo time.Time) (*Excursions, error) {
	var failed []error
	for _, stay := range stays {
		to := upTo.Add(1) // the sample at that very time too: it does not come again
		if !stay.To.IsZero() && stay.To.Before(to) {
			to = stay.To
		}
		for s, err := range p.Samples(SourceOf(stay), stay.Offset, stay.From, to) {
			if err != nil {
				failed = append(failed, err)
				continue
			}
			x.Observe(s)
		}
	}
	return x, errors.Join(failed...)
}

// Excursion is what eggs felt past one limit.
type Excursion struct {
	Limit
	thermal.Excess
}

// Past are the limits that were passed.
func (x *Excursions) Past() []Excursion {
	var all []Excursion
	for i, l := range x.limits {
		if x.excess[i].Total().Cumulative > 0 {
			all = append(all, Excursion{l, x.excess[i]})
		}
	}
	return all
}
