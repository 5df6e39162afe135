package station

import (
	"fmt"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal/forecastlog"
)

// Shown keeps the windows that were shown. Keep is durable when it returns, and
// the first of a clutch, a box and a day stays. Load may be called from any
// goroutine; an empty name is all clutches.
type Shown interface {
	Keep([]forecastlog.Window) error
	Load(clutch string) ([]forecastlog.Window, error)
}

// keep keeps the day's windows, once a day, after they were first reckoned on it.
func (s *Station) keep() error {
	if s.o.Shown == nil || s.reckoned.IsZero() {
		return nil
	}
	day := s.reckoned
	if s.plan.Location != nil {
		day = day.In(s.plan.Location)
	}
	today := day.Format(time.DateOnly)
	if today == s.kept {
		return nil
	}
	var all []forecastlog.Window
	for _, g := range s.groups() {
		w, ok := s.windows[g.id()]
		if t := s.tracks[g.track]; t == nil || !t.felt.Ready() {
			return nil // the windows are those of before; soon there are others
		}
		if !ok || !g.waiting || w.rate == nil || !w.window.Exists() || w.window.Late {
			continue
		}
		v := windowOf(w.window)
		all = append(all, forecastlog.Window{
			Clutch: g.clutch, Box: g.box, Day: today, At: s.reckoned.UTC().Truncate(time.Second),
			CheckFrom: v.CheckFrom, Likely: v.Likely, LateAfter: v.LateAfter, Developed: w.window.Developed,
		})
	}
	if len(all) > 0 {
		if err := s.o.Shown.Keep(all); err != nil {
			return fmt.Errorf("keeping today's windows: %w", err)
		}
	}
	s.kept = today
	return nil
}

// lastShown is the last window that was kept of a group, nil where none was.
func (s *Station) lastShown(g *group) *snapshot.Window {
	kept, err := shownOf(s.o.Shown, g.clutch)
	if err != nil {
		return nil // it is known again once the clutch is not late, or never
	}
	var last *snapshot.Window
	for _, w := range kept {
		if w.Box == g.box {
			last = &w.Window
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
