package incident

import (
	"context"
	"fmt"
	"math"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal"
)

// crossing is one limit followed through the span.
type crossing struct {
	snapshot.Past
	x    thermal.Excess
	warm bool // what is more is past it
	last thermal.Sample
	// in reports whether the limit was in force at a time.
	in func(time.Time) bool
}

// zone reads what the probes of a zone gave, a moment at a time.
func (q Query) zone(ctx context.Context, z plan.Zone, safe *plan.Band) (snapshot.IncidentZone, error) {
	v := snapshot.IncidentZone{Zone: z.Name, Past: []snapshot.Past{}, Jumps: []snapshot.Jump{}, Gaps: []snapshot.GapSpan{}}
	heat, damp := q.crossings("temperature", "wanted", z.Wanted), q.crossings("humidity", "wanted", z.Humidity)
	heat = append(heat, q.crossings("temperature", "safe", safe)...)
	c, h := newOutermost(z.Probes, q.Fresh), newOutermost(z.Probes, q.Fresh)
	var at time.Time // of the moment that is being gathered
	seen := q.From   // the last that gave something
	settle := func() {
		if at.IsZero() {
			return
		}
		c.settle(at, heat, &v.Highest, &v.Lowest, q.Gap)
		h.settle(at, damp, &v.Dampest, &v.Driest, q.Gap)
	}
	gap := func(to time.Time) {
		if to.Sub(seen) > q.Gap {
			v.Gaps = append(v.Gaps, snapshot.GapSpan{From: seen, To: to})
			v.Missing += to.Sub(seen).Seconds()
		}
	}
	for _, part := range q.spans(z, slices.Concat(heat, damp)) {
		seen = later(seen, part.from) // nothing is missing between two parts
		for p, err := range q.Readings(z.Probes, part.from, part.to) {
			if err == nil {
				err = ctx.Err()
			}
			if err != nil {
				return snapshot.IncidentZone{}, fmt.Errorf("reading what %s did: %w", z.Name, err)
			}
			if p.At.After(at) {
				settle()
				at = p.At
				gap(at)
				seen = at
			}
			c.take(p.Probe, p.At, p.Celsius)
			h.take(p.Probe, p.At, p.Humidity)
		}
		settle()
		at = time.Time{}
	}
	gap(q.To)
	v.Measured = q.To.Sub(q.From).Seconds() - v.Missing
	for _, l := range slices.Concat(heat, damp) {
		sum := l.x.Total()
		l.Seconds, l.Longest, l.Events, l.Most = sum.Cumulative.Seconds(), sum.Longest.Seconds(), sum.Events, sum.Most
		v.Past = append(v.Past, l.Past)
	}
	return v, nil
}

// crossings are the limits of a band, each spell's for as long as it is in force.
func (q Query) crossings(of, band string, root *plan.Band) (all []*crossing) {
	low, high := "cold", "warm"
	if of == "humidity" {
		low, high = "dry", "damp"
	}
	for _, b := range root.All() {
		in := q.inForce(root, b)
		if b.High != nil {
			all = append(all, &crossing{Past: snapshot.Past{Of: of, Band: band, Side: high, Limit: *b.High}, x: thermal.Over(*b.High), warm: true, in: in})
		}
		if b.Low != nil {
			all = append(all, &crossing{Past: snapshot.Past{Of: of, Band: band, Side: low, Limit: *b.Low}, x: thermal.Under(*b.Low), in: in})
		}
	}
	return all
}

// inForce gives whether a band of a root is in force at a time. It is asked for each reading;
// bands change at whole minutes.
func (q Query) inForce(root, band *plan.Band) func(time.Time) bool {
	if len(root.All()) == 1 {
		return func(time.Time) bool { return true }
	}
	minute, in := int64(math.MinInt64), false
	return func(at time.Time) bool {
		if m := at.Unix() / 60; m != minute {
			minute, in = m, root.At(q.Plan.Local(at)) == band
		}
		return in
	}
}

// outermost holds the last of each probe of a zone.
type outermost struct {
	probes []string
	fresh  time.Duration
	at     []int64 // Unix nanoseconds; 0: none yet
	value  []float64
}

func newOutermost(probes []string, fresh time.Duration) *outermost {
	return &outermost{probes: probes, fresh: fresh, at: make([]int64, len(probes)), value: make([]float64, len(probes))}
}

func (w *outermost) take(probe string, at time.Time, v float64) {
	if i := slices.Index(w.probes, probe); i >= 0 && !math.IsNaN(v) {
		w.at[i], w.value[i] = at.UnixNano(), v
	}
}

// settle follows the outermost of a moment to the limits and the extremes.
func (w *outermost) settle(at time.Time, limits []*crossing, most, least **snapshot.Extreme, gap time.Duration) {
	hi, lo, now := -1, -1, at.UnixNano()
	for i, t := range w.at {
		if t == 0 || now-t > int64(w.fresh) {
			continue
		}
		if hi < 0 || w.value[i] > w.value[hi] {
			hi = i
		}
		if lo < 0 || w.value[i] < w.value[lo] {
			lo = i
		}
	}
	if hi < 0 {
		return
	}
	if *most == nil || w.value[hi] > (*most).Value {
		*most = &snapshot.Extreme{Value: w.value[hi], At: at, Probe: w.probes[hi]}
	}
	if *least == nil || w.value[lo] < (*least).Value {
		*least = &snapshot.Extreme{Value: w.value[lo], At: at, Probe: w.probes[lo]}
	}
	for _, l := range limits {
		if !l.in(at) {
			l.last = thermal.Sample{}
			continue
		}
		s := thermal.Sample{At: at, Celsius: w.value[lo]}
		if l.warm {
			s.Celsius = w.value[hi]
		}
		if !l.last.At.IsZero() && at.Sub(l.last.At) <= gap {
			l.x.Add(l.last, s, 0)
		}
		l.last = s
	}
}
