package forecast

import (
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book/review"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

// House is what a forecast is made from. Temperatures are in C, differences in K.
type House struct {
	Now    time.Time
	Groups []*track.Group
	// Track is what the eggs with a group's stays have felt, by [track.Group.Track]; nil
	// until that is known.
	Track func(key string) *track.Track
	// Profile is a species by its name.
	Profile func(name string) (profile.Profile, bool)
	// Climate is what a source did day by day.
	Climate func(track.Source) thermal.ZoneHistory
	// SetPoint is what a source is set to; NaN where nothing is.
	SetPoint func(track.Source) float64
	// Spread is how far the probes of a zone lie apart; 0 where that is not known.
	Spread func(zone string) float64
	// OnlyProbe is the probe that a zone's temperature comes from; empty where there are several,
	// or none. A nil function knows none.
	OnlyProbe func(zone string) string
	// ProbeError is how wrong a source may have been throughout since a time, in K, one standard
	// deviation, by its calibration; 0 where it was not calibrated by then. A nil function knows
	// none.
	ProbeError func(src track.Source, since time.Time) float64
	// Latch is the latch of a group from before the first forecast. A nil function knows
	// none.
	Latch func(*track.Group) Latch
	// Corrections are those of the book.
	Corrections Corrections
	// Difference says a difference of temperatures in the reader's units.
	Difference func(kelvin float64) string
}

// Hatch is the forecast of one group.
type Hatch struct {
	Window thermal.Window // by the curve of development
	Line   thermal.Window // by the degree-day line
	Heat   thermal.Heat
	Rate   thermal.Rate       // nil where nothing is known of the species: then Because says why
	Linear thermal.DegreeDays // the line
	// Because says in plain words what makes the window as it is.
	Because []string
	// Last and LastLine are the windows where there is one, also a late one; nil where there
	// is none.
	Last, LastLine *thermal.Window
	// State is what a person has to do; the latch is that of the state.
	State State
	Latch Latch
}

// Forecast is the forecast of all groups at one time. It does not change.
type Forecast struct {
	At        time.Time
	Durations map[string]review.Duration // how long the clutches that are over took, by clutch
	hatches   map[string]Hatch           // by group
	priors    priors
	inferred  cache
	settled   *settled // nil before the first
}

// New is the forecast of nothing.
func New() *Forecast { return &Forecast{priors: priors{}, inferred: cache{}} }

// Of is the forecast of a group; false where what it felt is not known yet, or its
// species is not.
func (f *Forecast) Of(g *track.Group) (Hatch, bool) {
	h, ok := f.hatches[g.ID()]
	return h, ok
}

// Prior is what is published of a species.
func (f *Forecast) Prior(p profile.Profile) (thermal.Belief, error) { return f.priors.of(p) }

// Belief is what is believed of a group's species in a house, its dam and clutch included.
func (f *Forecast) Belief(h House, g *track.Group) (thermal.Belief, error) {
	p, _ := h.Profile(g.Profile)
	b, err := f.priors.of(p)
	if err != nil {
		return thermal.Belief{}, err
	}
	k := f.knowledge(h)
	n := k.infer(false, f.inferred, cache{})
	if i, ok := n.at[g.ID()]; ok && n.open != nil {
		b, _ = n.belief(i, n.needs(n.open, i))
	}
	return b, nil
}

// Next is the forecast of a house as it is. A group whose exposure is being rebuilt keeps
// the window that it has.
func (f *Forecast) Next(h House) *Forecast {
	k := f.knowledge(h)
	next := &Forecast{At: h.Now, priors: f.priors, hatches: make(map[string]Hatch, len(h.Groups)), inferred: cache{}}
	r := windowMaker{
		knowledge: k, curve: k.infer(false, f.inferred, next.inferred), line: k.infer(true, f.inferred, next.inferred),
		outlooks: map[outlookKey]*thermal.Outlook{},
	}
	r.doubts = r.curve.doubts()
	for _, g := range h.Groups {
		before, had := f.hatches[g.ID()]
		p, ok := h.Profile(g.Profile)
		if !ok {
			if x := k.without(g); x.State != "" {
				next.hatches[g.ID()] = x
			}
			continue
		}
		if h.Track(g.Track) == nil {
			if had {
				next.hatches[g.ID()] = before
			}
			continue
		}
		if _, err := k.priors.of(p); err != nil {
			x := k.without(g)
			x.Because = []string{err.Error()}
			next.hatches[g.ID()] = x
			continue
		}
		if !had && h.Latch != nil {
			before.Latch = h.Latch(g)
		}
		next.hatches[g.ID()] = r.hatch(g, p, before)
	}
	next.Durations = k.durations()
	next.settle(h, f)
	return next
}

// without is the forecast of a group of which nothing can be computed: an egg that has pipped
// hatches all the same.
func (k *knowledge) without(g *track.Group) (h Hatch) {
	h.State, h.Latch = StateOf(k.signs(g, thermal.Window{None: "nothing is known of its kind"}, Latch{}))
	return h
}
