package station

import (
	"math"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/track"
)

// hatchForecast is the present forecast, and what was done with it. Any goroutine may
// load now.
type hatchForecast struct {
	now      atomic.Pointer[forecast.Forecast]
	outdated bool                       // it is computed again at the next step
	shown    map[string]snapshot.Clutch // as the page shows it, by group
	logged   string                     // the day whose windows are in the forecast log
}

// outdateForecast has all windows computed at the next step.
func (s *Station) outdateForecast() { s.forecast.outdated = true }

// forecastAt is when the windows were computed; zero where they are outdated.
func (s *Station) forecastAt() time.Time {
	if s.forecast.outdated {
		return time.Time{}
	}
	return s.forecast.now.Load().At
}

// hatch is the forecast of a group with a known species; false where there is none yet.
func (s *Station) hatch(g *track.Group) (forecast.Hatch, bool) {
	h, ok := s.forecast.now.Load().Of(g)
	return h, ok && h.Rate != nil
}

// shownWindow is the window of a group as the page shows it; nil where there is none.
func (s *Station) shownWindow(g *track.Group) *snapshot.Window {
	return s.forecast.shown[g.ID()].Window
}

// updateForecast computes the windows of all groups, where those there are are old.
func (s *Station) updateForecast() {
	f := &s.forecast
	last := f.now.Load()
	if !f.outdated && !last.At.IsZero() && s.now.Sub(last.At) < s.o.ForecastEvery {
		return
	}
	next := last.Next(s.house())
	f.now.Store(next)
	f.outdated = false
	f.shown = map[string]snapshot.Clutch{}
	for _, g := range s.groups() {
		if _, ok := next.Of(g); ok {
			f.shown[g.ID()] = s.clutch(g)
		}
	}
}

// house is what a forecast is made from.
func (s *Station) house() forecast.House {
	return forecast.House{
		Now: s.now, Groups: s.groups(), Track: s.track, Profile: s.plan.Profile,
		Climate: func(src track.Source) (thermal.ZoneHistory, *time.Location) {
			if x := s.sources[idOf(src)]; x != nil {
				return x.climate.Get().History(), x.climate.Get().Place()
			}
			return nil, nil
		},
		SetPoint: func(src track.Source) float64 {
			set := math.NaN()
			for _, z := range s.plan.Zones {
				if z.SetPoint != nil && (z.Name == src.Zone || slices.Contains(z.Probes, src.Probe)) {
					set = *z.SetPoint
				}
			}
			return set
		},
		Spread: func(zone string) float64 {
			if x := s.sources[sourceID{zone: zone}]; x != nil {
				return x.spread.Get().Kelvin
			}
			return 0
		},
		LastWindow: s.lastLogged,
		Difference: words.Reader{Units: s.plan.Units}.Difference,
	}
}

// clutch is a group as the page shows it.
func (s *Station) clutch(g *track.Group) snapshot.Clutch {
	c := snapshot.Clutch{
		Clutch: g.Clutch, Dam: snapshot.OptText(strings.Join(g.Dams, " or ")), Profile: snapshot.OptText(g.Profile),
		Laid: snapshot.Laid{Earliest: g.Laid.Earliest, Latest: g.Laid.Latest}, Because: []string{}, Outside: []snapshot.Outside{},
	}
	if t := s.tracks[g.Track]; t != nil && t.excursions[g.Profile] != nil && t.excursions[g.Profile].Ready() {
		c.Outside = outsideOf(t.excursions[g.Profile].Get())
	}
	for _, e := range g.Eggs {
		c.Eggs = append(c.Eggs, snapshot.Egg{Egg: e.ID, Slot: snapshot.OptText(e.Slot), Fate: string(e.Fate)})
	}
	h, ok := s.forecast.now.Load().Of(g)
	if !ok {
		return c
	}
	c.Because = append(c.Because, h.Because...)
	if h.Rate == nil {
		return c
	}
	since, before := h.Heat.Since, h.Heat.Before
	felt := since.Plus(before)
	c.Developed = snapshot.OptFloat(h.Window.Developed)
	c.Observed = snapshot.OptFloat(felt.Observed())
	c.EquivalentCelsius = snapshot.OptFloat(since.Equivalent(h.Rate))
	share, _, _ := since.Bridged(h.Linear)
	early, _, _ := before.Bridged(h.Linear)
	c.DegreeDays = &snapshot.DegreeDays{
		Base:     h.Linear.Base,
		SoFar:    (share + early/2) * h.Linear.Required,
		Measured: since.Share(h.Linear) * h.Linear.Required,
		Required: h.Linear.Required,
	}
	if g.Waiting {
		c.Window, c.LineWindow = windowOf(h.Last), windowOf(h.LastLine)
	}
	return c
}

// windowOf is a window as it is published; nil where there is none.
func windowOf(w *thermal.Window) *snapshot.Window {
	if w == nil || !w.Exists() {
		return nil
	}
	return &snapshot.Window{
		CheckFrom: w.CheckFrom.UTC().Truncate(time.Second), Likely: w.Likely.UTC().Truncate(time.Second),
		LateAfter: w.LateAfter.UTC().Truncate(time.Second), Late: w.Late,
	}
}

// outsideOf is what eggs felt past each limit that was passed.
func outsideOf(x *track.Excursions) []snapshot.Outside {
	all := []snapshot.Outside{}
	for _, e := range x.Past() {
		sum := e.Total()
		o := snapshot.Outside{
			Band: e.Band, Side: "cold", Limit: e.Celsius, Seconds: sum.Cumulative.Seconds(), LongestSeconds: sum.Longest.Seconds(),
			Events: sum.Events, DegreeHours: sum.DegreeHours, Most: sum.Most, Stages: []snapshot.Stage{},
		}
		if e.Warm {
			o.Side = "warm"
		}
		for k := range thermal.Stages {
			if x := e.Stage(k); x.Cumulative > 0 {
				o.Stages = append(o.Stages, snapshot.Stage{
					From: float64(k) / thermal.Stages, To: float64(k+1) / thermal.Stages,
					Seconds: x.Cumulative.Seconds(), LongestSeconds: x.Longest.Seconds(), DegreeHours: x.DegreeHours,
				})
			}
		}
		all = append(all, o)
	}
	return all
}
