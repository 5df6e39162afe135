package station

import (
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
)

// lost reports whether a zone's value says nothing against an alarm that stands: a
// probe that was not back in this occurrence has gone silent, and those that are left
// may stand where it is well. What such probes last gave is kept with the alarm, so a
// restart forgets none.
func (s *Station) lost(z *zone, k alert.Key, v float64, of func(*probe) float64, fresh time.Duration) bool {
	x, ok := s.alarms.byKey[k]
	if !ok || !x.True && len(x.Held) == 0 {
		return false
	}
	held := map[string]float64{}
	for _, p := range z.eyes() {
		last, was := x.Held[p.name]
		if !p.good.IsZero() && !p.good.Before(x.Began) {
			last, was = of(p), true
		}
		if was && !math.IsNaN(last) && !x.Limit.Back(last) {
			held[p.name] = last
		}
	}
	return s.hold(k, held, fresh) && !x.Limit.Beyond(v)
}

// hold keeps with an alarm that stands which probes speak for it, with what they last
// gave, and reports whether one of them is silent.
func (s *Station) hold(k alert.Key, held map[string]float64, fresh time.Duration) bool {
	a := s.alarms
	x, ok := a.byKey[k]
	if !ok {
		return false
	}
	if !x.True {
		held = nil
	}
	var silent []string
	for name := range held {
		if s.mute(name, fresh) {
			silent = append(silent, name)
		}
	}
	slices.Sort(silent)
	// Written when a probe is added, and as things stand when one goes silent; not at
	// each poll of one that wavers at the edge.
	spoke := slices.Sorted(maps.Keys(held))
	was := a.spoke[k]
	if slices.ContainsFunc(spoke, func(name string) bool { return !slices.Contains(was.names, name) }) || strings.Join(silent, "\x00") != strings.Join(was.silent, "\x00") {
		a.dirty[k] = true
	}
	if x.True {
		for _, name := range was.names {
			if !slices.Contains(spoke, name) {
				spoke = append(spoke, name)
			}
		}
	}
	a.spoke[k] = spoken{names: spoke, silent: silent}
	x.Held = held
	a.byKey[k] = x
	return len(silent) > 0
}

// spoken is what of the probes that speak for an alarm is in the journal, or was.
type spoken struct{ names, silent []string }

// mute reports whether a probe gives nothing now.
func (s *Station) mute(name string, fresh time.Duration) bool {
	p := s.probes[name]
	return p != nil && (p.good.IsZero() || s.now.Sub(p.good) > fresh)
}
