// Package windows owns when the eggs of the book may hatch: the present forecast, the windows
// as the page shows them, and their daily entry in the forecast log. It computes a forecast
// when it is outdated or too old. It must not know alarms, or how readings become exposures.
package windows

import (
	"math"
	"slices"
	"sync/atomic"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/conditions"
	"example.com/ootherm/cmd/ootherm/internal/station/exposures"
	"example.com/ootherm/cmd/ootherm/internal/station/published"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/review"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

// Options are what Windows are made of.
type Options struct {
	Plan plan.Plan
	// Every is how old a window may be before it is computed again.
	Every time.Duration
	// Log keeps the windows that were shown; nil: nothing does.
	Log Log
}

// Windows are the present forecast, and what was done with it. One goroutine calls the
// methods, but for those that say otherwise.
type Windows struct {
	o          Options
	conditions *conditions.Conditions
	exposures  *exposures.Exposures

	forecast atomic.Pointer[forecast.Forecast]
	now      time.Time                  // of the last Update
	outdated bool                       // it is computed again at the next Update
	shown    map[string]snapshot.Clutch // as the page shows it, by group
	logged   string                     // the day whose windows are in the log
	latches  latches

	corrections forecast.Corrections // of the book
}

// New makes the windows before the first forecast. Follow completes them.
func New(o Options) *Windows {
	w := &Windows{o: o}
	w.forecast.Store(forecast.New())
	return w
}

// Follow sets what a forecast is computed from.
func (w *Windows) Follow(c *conditions.Conditions, x *exposures.Exposures) {
	w.conditions, w.exposures = c, x
}

// SetBook takes the corrections of a book. Its groups come from the exposures.
func (w *Windows) SetBook(b book.Book) {
	w.corrections = forecast.CorrectionsOf(b)
	w.Outdate()
}

// Outdate has all windows computed at the next Update.
func (w *Windows) Outdate() { w.outdated = true }

// At is when the windows were computed; zero where they are outdated.
func (w *Windows) At() time.Time {
	if w.outdated {
		return time.Time{}
	}
	return w.forecast.Load().At
}

// Prior is what is published of a species.
func (w *Windows) Prior(p profile.Profile) (thermal.Belief, error) { return w.forecast.Load().Prior(p) }

// Hatch is the forecast of a group with a known species; false where there is none yet.
func (w *Windows) Hatch(g *track.Group) (forecast.Hatch, bool) {
	h, ok := w.forecast.Load().Of(g)
	return h, ok && h.Rate != nil
}

// State is what a group asks of a person; empty where no egg of it waits or nothing is known.
func (w *Windows) State(g *track.Group) forecast.State {
	h, _ := w.forecast.Load().Of(g)
	return h.State
}

// Rate is how a group develops; nil where its species has no rate.
func (w *Windows) Rate(g *track.Group, now time.Time) (thermal.Rate, error) {
	if _, ok := w.o.Plan.Profile(g.Profile); !ok || g.Arrested {
		return nil, nil
	}
	if h, ok := w.Hatch(g); ok {
		return h.Rate, nil
	}
	b, err := w.forecast.Load().Belief(w.house(now), g)
	if err != nil {
		return nil, err
	}
	return b.Model(), nil
}

// Durations gives how long the clutches that are over took, by clutch. Any goroutine may
// call it.
func (w *Windows) Durations() map[string]review.Duration { return w.forecast.Load().Durations }

// Shown is the window of a group as the page shows it; nil where there is none.
func (w *Windows) Shown(g *track.Group) *snapshot.Window { return w.shown[g.ID()].Window }

// Clutch is a group as the page shows it.
func (w *Windows) Clutch(g *track.Group) snapshot.Clutch {
	if c, ok := w.shown[g.ID()]; ok {
		return c
	}
	return w.clutch(g)
}

func (w *Windows) clutch(g *track.Group) snapshot.Clutch {
	c := published.Clutch(g, w.exposures.Excursions(g))
	h, ok := w.forecast.Load().Of(g)
	if ok {
		c = published.Forecast(c, g, h)
	}
	c.Missing = w.missing(g, h)
	return c
}

// Update computes the windows of all groups, where they are outdated or old.
func (w *Windows) Update(now time.Time) {
	w.now = now
	last := w.forecast.Load()
	if !w.outdated && !last.At.IsZero() && now.Sub(last.At) < w.o.Every {
		return
	}
	next := last.Next(w.house(now))
	w.forecast.Store(next)
	w.outdated = false
	w.shown = map[string]snapshot.Clutch{}
	for _, g := range w.exposures.Groups() {
		if _, ok := next.Of(g); ok {
			w.shown[g.ID()] = w.clutch(g)
		}
	}
}

// house is what a forecast is made from.
func (w *Windows) house(now time.Time) forecast.House {
	return forecast.House{
		Now: now, Groups: w.exposures.Groups(), Track: w.exposures.Track, Profile: w.o.Plan.Profile,
		Climate: func(src track.Source) thermal.ZoneHistory {
			if x := w.conditions.Climate(src); x != nil {
				return x.History(now)
			}
			return nil
		},
		SetPoint: func(src track.Source) float64 {
			set := math.NaN()
			for _, z := range w.o.Plan.Zones {
				if z.SetPoint != nil && (z.Name == src.Zone || slices.Contains(z.Probes, src.Probe)) {
					set = *z.SetPoint
				}
			}
			return set
		},
		Spread: w.conditions.Spread, OnlyProbe: w.conditions.OnlyProbe, ProbeError: w.conditions.ProbeError,
		Latch: w.storedLatch, Corrections: w.corrections,
		Difference: words.Reader{Units: w.o.Plan.Units}.Difference,
	}
}
