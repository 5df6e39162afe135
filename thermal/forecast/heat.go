package forecast

import (
	"math"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/track"
)

// How wrong a temperature may be throughout, in K. The makers' typical figures
// lie between 0.1 and 0.5 K. A box without a probe takes the air of its zone:
// four probes of one room lay 0.8 K apart in a published recording, and half of
// that is added, or half of what this zone's own probes show.
const (
	probeSD   = 0.3
	noProbeSD = 0.4
)

// beforePlacing is how far from their first day in the box eggs may have been
// before, in K: an assumption.
const beforePlacing = 3

// sourceOf is where the temperature of a group comes from.
func sourceOf(g *track.Group) track.Source {
	if g.Probe != "" {
		return track.Source{Probe: g.Probe}
	}
	return track.Source{Zone: g.Zone}
}

// heat is what a group has felt. Before it was placed nothing was measured: that
// is a gap, taken to be as warm as its first day in the box, give or take beforePlacing.
// Where development was arrested, it is what was felt since that ended.
func (k *knowledge) heat(g *track.Group, t *track.Track) thermal.Heat {
	day := t.FirstDay().Mean()
	x := thermal.Heat{Laid: g.Laid, ProbeSD: k.errorOf(k.biased(sourceOf(g))), Arrested: g.Arrested}
	if !g.Resumed.IsZero() {
		x.Laid = thermal.Laid{Earliest: g.Resumed, Latest: g.Resumed}
	}
	unplaced := func(from, to time.Time) thermal.Gap {
		return thermal.Gap{From: from, To: to, Before: day, After: day, Margin: beforePlacing}
	}
	x.Before = x.Before.Gap(unplaced(x.Earliest, x.Latest))
	x.Since = x.Since.Gap(unplaced(x.Latest, t.Began())).Plus(t.UpTo(k.Now))
	if g.Probe == "" {
		x.ProbeSD = math.Hypot(x.ProbeSD, max(noProbeSD, k.Spread(g.Zone)/2))
	}
	return x
}

// climate is what a box is expected to do that is so much warmer than its source, in C.
func (h House) climate(src track.Source, offset, usual float64) thermal.Climate {
	days := h.Climate(src)
	for i := range days {
		days[i].Mean += offset
	}
	c, _ := days.Climate(h.SetPoint(src)+offset, usual, h.Now)
	return c
}
