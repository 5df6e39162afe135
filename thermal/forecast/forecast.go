package forecast

import (
	"fmt"
	"maps"
	"slices"
	"strings"
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
	// LastWindow is the last window of a group from before the first forecast, none that
	// was late; nil where none is known.
	LastWindow func(*track.Group) *thermal.Window
	// Latch is the latch of a group from before the first forecast. A nil function knows
	// none.
	Latch func(*track.Group) Latch
	// Corrections is how many entries of the book undo or change another one.
	Corrections int
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
	// Last and LastLine are the last windows before the group was late, marked as late
	// once it is; nil where none is known.
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
}

// New is the forecast of nothing.
func New() *Forecast { return &Forecast{priors: priors{}} }

// Of is the forecast of a group; false where what it felt is not known yet, or its
// species is not.
func (f *Forecast) Of(g *track.Group) (Hatch, bool) {
	h, ok := f.hatches[g.ID()]
	return h, ok
}

// Prior is what is published of a species.
func (f *Forecast) Prior(p profile.Profile) (thermal.Belief, error) { return f.priors.of(p) }

// Belief is what is believed of a group's species in a house.
func (f *Forecast) Belief(h House, g *track.Group) (thermal.Belief, error) {
	return f.knowledge(h).belief(g)
}

func (f *Forecast) knowledge(h House) *knowledge {
	return &knowledge{House: h, priors: f.priors, doubted: map[string]float64{}}
}

// Next is the forecast of a house as it is. A group whose exposure is being rebuilt keeps
// the window that it has.
func (f *Forecast) Next(h House) *Forecast {
	k := f.knowledge(h)
	next := &Forecast{At: h.Now, priors: f.priors, hatches: make(map[string]Hatch, len(h.Groups))}
	outlooks := map[string]outlook{}
	for _, g := range h.Groups {
		p, ok := h.Profile(g.Profile)
		if !ok {
			continue
		}
		before, had := f.hatches[g.ID()]
		if h.Track(g.Track) == nil {
			if had {
				next.hatches[g.ID()] = before
			}
			continue
		}
		o, err := k.outlook(outlooks, g, p)
		if err != nil {
			next.hatches[g.ID()] = Hatch{Because: []string{err.Error()}}
			continue
		}
		if !had {
			before.Last = h.LastWindow(g)
			if h.Latch != nil {
				before.Latch = h.Latch(g)
			}
		}
		next.hatches[g.ID()] = k.hatch(g, p, o, before)
	}
	next.Durations = k.durations()
	return next
}

// outlook is what a belief expects in a climate, by the curve and by the line.
type outlook struct {
	belief      thermal.Belief
	curve, line *thermal.Outlook
}

// outlook is that of a group. Groups that share species, dam and place share it.
func (k *knowledge) outlook(known map[string]outlook, g *track.Group, p profile.Profile) (outlook, error) {
	src := sourceOf(g)
	key := fmt.Sprint(g.Profile, "\x00", strings.Join(g.Dams, "\x00"), "\x00", src, "\x00", g.Offset)
	if k.teaches(g) {
		key += "\x00" + g.ID() // it does not learn from itself
	}
	if o, ok := known[key]; ok {
		return o, nil
	}
	b, err := k.belief(g)
	if err != nil {
		return outlook{}, err
	}
	c := k.climate(src, g.Offset, p.Usual)
	o := outlook{b, c.Outlook(b, k.Now), c.Outlook(b.AsLine(), k.Now)}
	known[key] = o
	return o, nil
}

// hatch is the forecast of a group.
func (k *knowledge) hatch(g *track.Group, p profile.Profile, o outlook, before Hatch) Hatch {
	heat := k.heat(g, k.Track(g.Track))
	h := Hatch{Heat: heat, Rate: o.belief.Model(), Linear: o.belief.Line()}
	h.Window, h.Line = o.curve.Window(heat), o.line.Window(heat)
	h.Last, h.LastLine = lasting(h.Window, before.Last), lasting(h.Line, before.LastLine)
	h.Because = k.because(g, p, o.belief, h.Window)
	h.State, h.Latch = StateOf(k.signs(g, h.Window, before.Latch))
	return h
}

// because says what a window rests on.
func (k *knowledge) because(g *track.Group, p profile.Profile, b thermal.Belief, w thermal.Window) []string {
	all := slices.Clone(w.Because)
	if w.None != "" {
		all = append(all, w.None)
	}
	if g.Arrested {
		all = append(all, fmt.Sprintf("to mark it, note about %s: %q", g.Clutch, track.Resumed))
	}
	if g.Probe == "" {
		all = append(all, fmt.Sprintf("the box has no probe of its own: the %s stands for it", g.Zone))
	}
	if g.Offset != 0 {
		all = append(all, k.offsetText(g))
	}
	if others := k.hatchedProfiles(); len(others) > 1 || len(others) == 1 && others[0] != g.Profile {
		all = append(all, "what other kinds took in this house counts too")
	}
	if b.Own > 0 {
		all = append(all, fmt.Sprintf("%.0f %% of what is known of these eggs comes from your own hatches", 100*b.FromOwn()))
	}
	for _, clutch := range slices.Sorted(maps.Keys(k.doubted)) {
		all = append(all, fmt.Sprintf("%s hatched after %.0f days by the book: that is not believed, and teaches nothing; see its dates", clutch, k.doubted[clutch]))
	}
	if p.SexByTemperature {
		all = append(all, "sex depends on temperature: not predicted")
	}
	return all
}

// offsetText says how a box differs from its source.
func (k *knowledge) offsetText(g *track.Group) string {
	than, how, by := "its probe", "warmer", g.Offset
	if g.Probe == "" {
		than = "the " + g.Zone
	}
	if by < 0 {
		how, by = "colder", -by
	}
	return fmt.Sprintf("by the book the box is %s %s than %s", k.Difference(by), how, than)
}

// lasting is a window, or, once a group is late, the last it had before that, marked:
// 'late' is no new window. It is nil where there is none.
func lasting(w thermal.Window, last *thermal.Window) *thermal.Window {
	switch {
	case !w.Late && w.Exists():
		return &w
	case !w.Late || last == nil:
		return nil
	}
	late := *last
	late.Late = true
	return &late
}
