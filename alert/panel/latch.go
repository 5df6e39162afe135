package panel

import (
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
)

// Source is one of the probes that an alarm's value is the worst of.
type Source struct {
	Name   string
	Value  float64   // the last it gave; NaN where it never did
	At     time.Time // when that was
	Silent bool      // it gives nothing now
}

// latch is which sources of an alarm the journal knows, or knew in this occurrence.
type latch struct{ names, silent []string }

// ShowLatched hands an alarm its value, the worst of some sources. One that stands does not end
// by it while a source that was not back in this occurrence is silent: the sources that are left
// may be where it is well. What such sources last gave is kept with the alarm, so that a restart
// forgets none. Sources is called only for an alarm that stands.
func (p *Panel) ShowLatched(k alert.Key, r Reading, sources func() []Source) {
	x := p.entries.watched(k)
	if x == nil {
		return
	}
	if x.True || len(x.Held) > 0 {
		r.Known = r.Known && !latched(&p.unwritten, x, r.Value, sources())
	}
	show(p, x, r)
}

// latched keeps the sources of an alarm, and reports whether it must not end by a value v.
func latched(u *Unwritten, x *entry, v float64, sources []Source) bool {
	held := map[string]float64{}
	for _, s := range sources {
		last, was := x.Held[s.Name]
		if !s.At.IsZero() && !s.At.Before(x.Began) {
			last, was = s.Value, true
		}
		if was && !math.IsNaN(last) && !x.Limit.Back(last) {
			held[s.Name] = last
		}
	}
	return hold(u, x, held, func(name string) bool {
		return slices.ContainsFunc(sources, func(s Source) bool { return s.Name == name && s.Silent })
	}) && !x.Limit.Beyond(v)
}

// Hold keeps with an alarm that stands what the sources that speak for it last gave, by name,
// and reports whether one of them is silent. An alarm that does not stand forgets them.
func (p *Panel) Hold(k alert.Key, held map[string]float64, silent func(name string) bool) bool {
	x := p.entries.watched(k)
	return x != nil && hold(&p.unwritten, x, held, silent)
}

// hold is Hold of a watched alarm.
func hold(u *Unwritten, x *entry, held map[string]float64, silent func(name string) bool) bool {
	if !x.True {
		held = nil
	}
	names := slices.Sorted(maps.Keys(held))
	var quiet []string
	for _, name := range names {
		if silent(name) {
			quiet = append(quiet, name)
		}
	}
	// The journal learns of a source that is added, and of the values as one goes silent;
	// it does not learn at each poll of a source that wavers at the edge.
	was := x.latch
	added := slices.ContainsFunc(names, func(name string) bool { return !slices.Contains(was.names, name) })
	if added || !slices.Equal(quiet, was.silent) {
		u.mark(x)
	}
	if x.True {
		for _, name := range was.names {
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	x.latch = latch{names: names, silent: quiet}
	x.Held = held
	return len(quiet) > 0
}
