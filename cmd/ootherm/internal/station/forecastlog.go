package station

import (
	"fmt"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/forecastlog"
	"example.com/ootherm/thermal/track"
)

// Shown keeps the windows that were shown. Keep is durable when it returns, and
// the first of a clutch, a box and a day stays. Load may be called from any
// goroutine; an empty name is all clutches.
type Shown interface {
	Keep([]forecastlog.Window) error
	Load(clutch string) ([]forecastlog.Window, error)
}

// logForecast keeps the day's windows, once a day, after they were first computed on it.
func (s *Station) logForecast() error {
	f := &s.forecast
	at := f.now.Load().At
	if s.o.Shown == nil || f.outdated || at.IsZero() {
		return nil
	}
	day := at
	if s.plan.Location != nil {
		day = day.In(s.plan.Location)
	}
	today := day.Format(time.DateOnly)
	if today == f.logged {
		return nil
	}
	var all []forecastlog.Window
	for _, g := range s.groups() {
		if s.track(g.Track) == nil {
			return nil // the windows are those of before; soon there are others
		}
		h, ok := s.hatch(g)
		v := windowOf(&h.Window)
		if !ok || !g.Waiting || v == nil || v.Late {
			continue
		}
		all = append(all, forecastlog.Window{
			Clutch: g.Clutch, Box: g.Box, Day: today, At: at.UTC().Truncate(time.Second),
			CheckFrom: v.CheckFrom, Likely: v.Likely, LateAfter: v.LateAfter, Developed: h.Window.Developed,
		})
	}
	if len(all) > 0 {
		if err := s.o.Shown.Keep(all); err != nil {
			return fmt.Errorf("keeping today's windows: %w", err)
		}
	}
	f.logged = today
	return nil
}

// lastLogged is the last window in the forecast log of a group, nil where none is.
func (s *Station) lastLogged(g *track.Group) *thermal.Window {
	kept, err := shownOf(s.o.Shown, g.Clutch)
	if err != nil {
		return nil // it is known again once the clutch is not late, or never
	}
	var last *thermal.Window
	for _, w := range kept {
		if w.Box == g.Box {
			last = &thermal.Window{CheckFrom: w.Window.CheckFrom, Likely: w.Window.Likely, LateAfter: w.Window.LateAfter}
		}
	}
	return last
}

// shownOf gives the windows that were shown of a clutch, or of all.
func shownOf(from Shown, clutch string) ([]snapshot.Shown, error) {
	all := []snapshot.Shown{}
	if from == nil {
		return all, nil
	}
	kept, err := from.Load(clutch)
	if err != nil {
		return nil, err
	}
	for _, w := range kept {
		all = append(all, snapshot.Shown{
			Clutch: w.Clutch, Box: w.Box, Day: w.Day, At: w.At, Developed: w.Developed,
			Window: snapshot.Window{CheckFrom: w.CheckFrom, Likely: w.Likely, LateAfter: w.LateAfter},
		})
	}
	return all, nil
}
