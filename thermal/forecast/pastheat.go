package forecast

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/track"
)

// past is what a source did day by day, in order of time.
type past thermal.ZoneHistory

const day = 24 * time.Hour

// pastOf is what a source did.
func (k *knowledge) pastOf(src track.Source) past {
	p, ok := k.past[src]
	if !ok {
		p = past(slices.Clone(k.Climate(src)))
		slices.SortStableFunc(p, func(a, b thermal.Day) int { return a.Start.Compare(b.Start) })
		k.past[src] = p
	}
	return p
}

// dayKey names one day of a source in a box that is so much warmer than it.
type dayKey struct {
	src    track.Source
	offset float64
	start  time.Time
}

// stayed is the heat of a span in one place, by the means of its days. What was not
// measured counts as the other days, or as otherwise, a day's heat, where none was.
func (k *knowledge) stayed(x *kind, src track.Source, offset float64, from, to time.Time, otherwise thermal.Sum) thermal.Sum {
	var sum thermal.Sum
	if !to.After(from) {
		return sum
	}
	p := k.pastOf(src)
	first, _ := slices.BinarySearchFunc(p, from.Add(-day), func(d thermal.Day, t time.Time) int { return d.Start.Compare(t) })
	var known time.Duration
	for _, d := range p[first:] {
		begin, end := later(d.Start, from), d.Start.Add(day)
		if end.After(to) {
			end = to
		}
		if !d.Start.Before(to) {
			break
		}
		if !end.After(begin) {
			continue
		}
		key := dayKey{src, offset, d.Start}
		heat, ok := x.days[key]
		if !ok {
			heat = x.sum.Day(d.Mean+offset, d.Range)
			x.days[key] = heat
		}
		sum = sum.Plus(heat.Times(float64(end.Sub(begin)) / float64(day)))
		known += end.Sub(begin)
	}
	if known == 0 {
		return otherwise.Times(float64(to.Sub(from)) / float64(day))
	}
	return sum.Times(float64(to.Sub(from)) / float64(known))
}

// felt is the heat of a group at times of the past.
type felt struct {
	k      *knowledge
	x      *kind
	g      *track.Group
	before thermal.Sum // of half of the lay interval, and until it was placed
	total  thermal.Sum // in all, up to the end of its stays or now
	end    time.Time   // of its stays; zero: it is still there
	mean   thermal.Sum // of a mean day
}

func (k *knowledge) felt(x *kind, g *track.Group, heat thermal.Heat, t *track.Track) felt {
	f := felt{k: k, x: x, g: g}
	half := x.sum.Exposure(&heat.Before, x.prior.Usual).Times(0.5)
	f.total = half.Plus(x.sum.Exposure(&heat.Since, x.prior.Usual))
	from := later(heat.Latest, t.Began())
	unplaced := thermal.Exposure{}.Gap(thermal.Gap{From: heat.Latest, To: t.Began(), Before: t.FirstDay().Mean(), After: math.NaN()})
	f.before = half.Plus(x.sum.Exposure(&unplaced, x.prior.Usual))
	if n := len(g.Stays); n > 0 {
		f.end = g.Stays[n-1].To
	}
	to := f.end
	if to.IsZero() {
		to = k.Now
	}
	f.mean = x.sum.Day(x.prior.Usual, 0)
	if days := to.Sub(from).Hours() / 24; days > 0 {
		f.mean = f.total.Plus(f.before.Times(-1)).Times(1 / days)
	}
	return f
}

// until is the heat that eggs of the group had felt by a time. Of a group that is over it
// comes from what was measured, of one that waits from the means of its days: it then does
// not change as time goes on.
func (f *felt) until(at time.Time) thermal.Sum {
	if !f.end.IsZero() {
		last := f.g.Stays[len(f.g.Stays)-1]
		src := track.SourceOf(last)
		if at.Before(f.end) {
			return f.total.Plus(f.k.stayed(f.x, src, last.Offset, at, f.end, f.mean).Times(-1))
		}
		return f.total.Plus(f.k.stayed(f.x, src, last.Offset, f.end, at, f.mean))
	}
	sum := f.before
	for _, s := range f.g.Stays {
		to := at
		if !s.To.IsZero() && s.To.Before(to) {
			to = s.To
		}
		sum = sum.Plus(f.k.stayed(f.x, track.SourceOf(s), s.Offset, s.From, to, f.mean))
	}
	return sum
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
