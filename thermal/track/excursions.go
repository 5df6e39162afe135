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
			c.excess[i].Add(last, s, c.before+c.share)
		}
	}
	c.share += c.rate.PerDay((last.Celsius+s.Celsius)/2) * d.Hours() / 24
}

// stayed follows eggs through a stay up to a time. Of a stay that goes on, what came before
// has been followed.
func (c *Excursions) stayed(p Past, stay book.Stay, goesOn bool, to time.Time) error {
	var failed []error
	// Lead is read before and left out: a zone's value comes from the last readings of all its
	// probes.
	samples := func(from, to time.Time, lead time.Duration) {
		for s, err := range p.Samples(SourceOf(stay), stay.Offset, from.Add(-lead), to) {
			switch {
			case err != nil:
				failed = append(failed, err)
			case !s.At.Before(from):
				c.Observe(s)
			}
		}
	}
	summed, ok := p.(Spanned)
	if !ok {
		lead := time.Duration(0)
		if goesOn {
			lead = c.gap
		}
		samples(stay.From, to, lead)
		return errors.Join(failed...)
	}
	for span, err := range summed.Spans(SourceOf(stay), stay.Offset, stay.From, to) {
		switch {
		case err != nil:
			failed = append(failed, err)
		case c.inside(span):
			c.pass(span)
		case span.First.At.Equal(span.Last.At):
			c.Observe(span.First)
		default:
			samples(span.First.At, span.Last.At.Add(1), c.gap)
		}
	}
	return errors.Join(failed...)
}

// inside reports whether a span reaches no limit.
func (c *Excursions) inside(s Span) bool {
	for _, l := range c.limits {
		if l.Warm && s.Most > l.Celsius || !l.Warm && s.Least < l.Celsius {
			return false
		}
	}
	return true
}

// pass takes a span that reaches no limit.
func (c *Excursions) pass(s Span) {
	c.Observe(s.First)
	if !s.Last.At.After(s.First.At) || c.last != s.First {
		return
	}
	for i := range c.excess {
		c.excess[i].Add(s.First, s.Last, c.before+c.share)
	}
	c.share += s.Felt.Share(c.rate)
	for _, g := range s.Felt.Gaps() {
		c.share += c.rate.PerDay((g.Before+g.After)/2) * g.To.Sub(g.From).Hours() / 24
	}
	c.last = s.Last
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
