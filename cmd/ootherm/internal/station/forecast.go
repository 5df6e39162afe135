package station

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/profile"
)

// How wrong a temperature may be throughout, in K. The makers' typical figures
// lie between 0.1 and 0.5 K. A box without a probe takes the air of its zone:
// four probes of one room lay 0.8 K apart in a published recording, and half of
// that is added, or half of what this zone's own probes show.
const (
	probeSD   = 0.3
	noProbeSD = 0.4
)

// reckoned is a group's windows and what led to them.
type reckoned struct {
	window, line thermal.Window
	heat         thermal.Heat
	rate         thermal.Rate
	straight     thermal.DegreeDays
	because      []string
	was, lineWas *snapshot.Window // the last that were no 'late'; nil: none is known
	shown        snapshot.Clutch  // all of it as the page shows it
}

// reckon works out the windows of all groups, where those there are are old.
func (s *Station) reckon() {
	if !s.reckoned.IsZero() && s.now.Sub(s.reckoned) < s.o.ReckonEvery {
		return
	}
	s.reckoned = s.now
	windows := make(map[string]reckoned, len(s.windows))
	outlooks := map[string][2]*thermal.Outlook{}
	s.doubted = map[string]float64{}
	for _, g := range s.groups() {
		t := s.tracks[g.track]
		p, ok := s.plan.Profile(g.profile)
		if t == nil || !ok {
			continue
		}
		if !t.felt.Ready() {
			if w, had := s.windows[g.id()]; had {
				windows[g.id()] = w
			}
			continue
		}
		src := sourceID{probe: g.probe}
		if g.probe == "" {
			src = sourceID{zone: g.zone}
		}
		key := fmt.Sprint(g.profile, "\x00", strings.Join(g.dams, "\x00"), "\x00", src, "\x00", g.offset)
		if s.teaches(g) {
			key += "\x00" + g.id() // it does not learn from itself
		}
		o, ok := outlooks[key]
		if !ok {
			b, err := s.belief(g)
			if err != nil {
				windows[g.id()] = reckoned{because: []string{err.Error()}}
				continue
			}
			c := s.climate(src, g.offset, p.Usual)
			o = [2]*thermal.Outlook{c.Outlook(b, s.now), c.Outlook(b.AsLine(), s.now)}
			outlooks[key] = o
			s.beliefs[key] = b
		}
		b := s.beliefs[key]
		heat := s.heat(g, t.felt.Get(), src)
		r := reckoned{heat: heat, rate: b.Model(), straight: b.Line()}
		r.window, r.line = o[0].Window(heat), o[1].Window(heat)
		before, had := s.windows[g.id()]
		if !had {
			before.was = s.lastShown(g)
		}
		r.was, r.lineWas = lasting(r.window, before.was), lasting(r.line, before.lineWas)
		r.because = append(r.because, r.window.Because...)
		if r.window.None != "" {
			r.because = append(r.because, r.window.None)
		}
		if g.arrested {
			r.because = append(r.because, fmt.Sprintf("to mark it, note about %s: %q", g.clutch, resumed))
		}
		if src.probe == "" {
			r.because = append(r.because, fmt.Sprintf("the box has no probe of its own: the %s stands for it", g.zone))
		}
		if g.offset != 0 {
			r.because = append(r.because, s.warmer(g))
		}
		if others := s.hatchedProfiles(); len(others) > 1 || len(others) == 1 && others[0] != g.profile {
			r.because = append(r.because, "what other kinds took in this house counts too")
		}
		if b.Own > 0 {
			r.because = append(r.because, fmt.Sprintf("%.0f %% of what is known of these eggs comes from your own hatches", 100*b.FromOwn()))
		}
		for _, clutch := range slices.Sorted(maps.Keys(s.doubted)) {
			r.because = append(r.because, fmt.Sprintf("%s hatched after %.0f days by the book: that is not believed, and teaches nothing; see its dates", clutch, s.doubted[clutch]))
		}
		if p.SexByTemperature {
			r.because = append(r.because, "sex depends on temperature: not predicted")
		}
		windows[g.id()] = r
	}
	s.windows = windows
	for _, g := range s.groups() {
		if r, ok := windows[g.id()]; ok {
			r.shown = s.clutch(g)
			windows[g.id()] = r
		}
	}
	paces := s.paces()
	s.paced.Store(&paces)
}

// warmer says how a box differs from what it is told by.
func (s *Station) warmer(g *group) string {
	than, how := "its probe", "warmer"
	if g.probe == "" {
		than = "the " + g.zone
	}
	if g.offset < 0 {
		how = "colder"
	}
	return fmt.Sprintf("by the book the box is %s %s than %s", words.Reader{Units: s.plan.Units}.Difference(math.Abs(g.offset)), how, than)
}

// beforePlacing is how far from their first day in the box eggs may have been
// before, in K: an assumption.
const beforePlacing = 3

// heat is what a group has felt. Before it was placed nothing was measured: that
// is a gap, taken to be as warm as its first day in the box, give or take 3 K.
// Where development was arrested, it is what was felt since that ended.
func (s *Station) heat(g *group, t *track, src sourceID) thermal.Heat {
	day := t.day.Mean()
	h := thermal.Heat{Laid: g.laid, ProbeSD: probeSD, Arrested: g.arrested}
	if !g.resumed.IsZero() {
		h.Laid = thermal.Laid{Earliest: g.resumed, Latest: g.resumed}
	}
	h.Before = h.Before.Gap(thermal.Gap{From: h.Earliest, To: h.Latest, Before: day, After: day, Margin: beforePlacing})
	h.Since = h.Since.Gap(thermal.Gap{From: h.Latest, To: t.began, Before: day, After: day, Margin: beforePlacing})
	h.Since = h.Since.Plus(t.upTo(s.now, s.plan.GapLimit()))
	if src.probe == "" {
		apart := noProbeSD
		if x := s.sources[src]; x != nil {
			apart = max(apart, x.spread.Get().Kelvin/2)
		}
		h.ProbeSD = math.Hypot(probeSD, apart)
	}
	return h
}

// climate is what a box is expected to do that is so much warmer than its source.
func (s *Station) climate(src sourceID, offset, usual float64) thermal.Climate {
	set := math.NaN()
	for _, z := range s.plan.Zones {
		if z.SetPoint != nil && (z.Name == src.zone || slices.Contains(z.Probes, src.probe)) {
			set = *z.SetPoint + offset
		}
	}
	var days thermal.ZoneHistory
	at := s.now
	if x := s.sources[src]; x != nil {
		days, at = x.almanac.Get().history(), s.now.In(x.almanac.Get().place)
	}
	for i := range days {
		days[i].Mean += offset
	}
	c, ok := days.Climate(set, usual, at)
	if !ok {
		c = thermal.Steady(usual, 3) // nothing is known yet: the species' usual, give or take 3 K
	}
	return c
}

// belief is what is believed of a group's species in this house. Hatches of other
// species teach the house alone, then those of its own species all there is to
// learn; a dam's own offset is learned from her own clutches. The group itself
// teaches it nothing.
func (s *Station) belief(g *group) (thermal.Belief, error) {
	p, _ := s.plan.Profile(g.profile)
	b, err := s.prior(p)
	if err != nil {
		return thermal.Belief{}, err
	}
	for _, other := range s.hatchedProfiles() {
		if other == g.profile {
			continue
		}
		p, ok := s.plan.Profile(other)
		if !ok {
			continue
		}
		o, err := s.prior(p)
		if err != nil {
			return thermal.Belief{}, err
		}
		b = b.Beside(s.learned(o, other, g))
	}
	return s.learned(b, g.profile, g), nil
}

// prior is what is published of a species: made once, since the plan does not
// change.
func (s *Station) prior(p profile.Profile) (thermal.Belief, error) {
	if b, ok := s.priors[p.Name]; ok {
		return b, nil
	}
	b, err := p.Belief()
	if err != nil {
		return thermal.Belief{}, err
	}
	s.priors[p.Name] = b
	return b, nil
}

// unbelievable is how many standard deviations off a hatch teaches nothing: a slip
// in its dates is likelier than such an egg (our choice).
const unbelievable = 4

// learned is a species' belief after its own hatches here, save those of a group:
// one observation for each clutch, of the mean of its eggs.
func (s *Station) learned(b thermal.Belief, profile string, save *group) thermal.Belief {
	for _, h := range s.groups() {
		if h.profile != profile || h.id() == save.id() || !s.teaches(h) {
			continue
		}
		o := s.took(h, s.tracks[h.track].felt.Get())
		o.SameDam = len(h.dams) == 1 && len(save.dams) == 1 && h.dams[0] == save.dams[0]
		if want, sd := b.Predict(o); math.Abs(math.Log(o.Days)-want) > unbelievable*sd {
			s.doubted[h.clutch] = o.Days
			continue
		}
		b = b.Learn(o)
	}
	return b
}

// took is how long a group that hatched took, and what it felt.
func (s *Station) took(g *group, t *track) thermal.Observed {
	heat := s.heat(g, t, t.now)
	felt := heat.Before.Plus(heat.Since)
	half := heat.Latest.Sub(heat.Earliest) / 2
	return thermal.Observed{
		Days: g.hatched.Sub(heat.Latest.Add(-half)).Hours() / 24, Felt: &felt,
		Own: true, Eggs: g.born, DaysOff: half.Hours() / 24,
	}
}

// teaches reports whether a group's hatch is known whole: all its eggs hatched or
// were lost, and what they felt is known.
func (s *Station) teaches(g *group) bool {
	t := s.tracks[g.track]
	return g.born > 0 && !g.waiting && t != nil && t.felt.Ready()
}

// hatchedProfiles are the species that have hatched here, in order of their names.
func (s *Station) hatchedProfiles() []string {
	set := map[string]bool{}
	for _, g := range s.groups() {
		if s.teaches(g) {
			set[g.profile] = true
		}
	}
	return slices.Sorted(maps.Keys(set))
}

// clutch is a group as the page shows it.
func (s *Station) clutch(g *group) snapshot.Clutch {
	c := snapshot.Clutch{
		Clutch: g.clutch, Dam: snapshot.OptText(strings.Join(g.dams, " or ")), Profile: snapshot.OptText(g.profile),
		Laid: snapshot.Laid{Earliest: g.laid.Earliest, Latest: g.laid.Latest}, Because: []string{}, Outside: []snapshot.Outside{},
	}
	if t := s.tracks[g.track]; t != nil && t.courses[g.profile] != nil && t.courses[g.profile].Ready() {
		c.Outside = t.courses[g.profile].Get().outside()
	}
	for _, e := range g.eggs {
		c.Eggs = append(c.Eggs, snapshot.Egg{Egg: e.ID, Slot: snapshot.OptText(e.Slot), Fate: string(e.Fate)})
	}
	w, ok := s.windows[g.id()]
	if !ok {
		return c
	}
	c.Because = append(c.Because, w.because...)
	if w.rate == nil {
		return c
	}
	half := w.heat.Since.Plus(w.heat.Before)
	c.Developed = snapshot.OptFloat(w.window.Developed)
	c.Observed = snapshot.OptFloat(half.Observed())
	c.EquivalentCelsius = snapshot.OptFloat(w.heat.Since.Equivalent(w.rate))
	share, _, _ := w.heat.Since.Bridged(w.straight)
	before, _, _ := w.heat.Before.Bridged(w.straight)
	c.DegreeDays = &snapshot.DegreeDays{
		Base:     w.straight.Base,
		SoFar:    (share + before/2) * w.straight.Required,
		Measured: w.heat.Since.Share(w.straight) * w.straight.Required,
		Required: w.straight.Required,
	}
	if g.waiting {
		c.Window, c.LineWindow = w.was, w.lineWas
	}
	return c
}

// lasting is a window, or, once a clutch is late, the last it had before that,
// marked: 'late' is no new window. It is nil where there is none.
func lasting(w thermal.Window, was *snapshot.Window) *snapshot.Window {
	if !w.Late {
		return windowOf(w)
	}
	if was == nil {
		return nil
	}
	late := *was
	late.Late = true
	return &late
}

// windowOf is nil where there is no window.
func windowOf(w thermal.Window) *snapshot.Window {
	if !w.Exists() {
		return nil
	}
	return &snapshot.Window{
		CheckFrom: w.CheckFrom.UTC().Truncate(time.Second), Likely: w.Likely.UTC().Truncate(time.Second),
		LateAfter: w.LateAfter.UTC().Truncate(time.Second), Late: w.Late,
	}
}
