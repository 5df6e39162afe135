package windows

import (
	"errors"
	"fmt"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/published"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/forecastlog"
	"example.com/ootherm/thermal/track"
)

// Log keeps the windows that were shown. Keep is durable when it returns, and the first of
// a clutch, a box and a day stays. Load may be called from any goroutine; an empty name is
// all clutches.
type Log interface {
	Keep([]forecastlog.Window) error
	Load(clutch string) ([]forecastlog.Window, error)
	// KeepLatches replaces all latches.
	KeepLatches(map[string]forecastlog.Latch) error
	Latches() (map[string]forecastlog.Latch, error)
}

// Keep stores what a restart must not forget: since when eggs are to be checked daily, as
// soon as that changes, and the day's windows, once a day, after they were first computed on
// it.
func (w *Windows) Keep() error { return errors.Join(w.keepLatches(), w.keepWindows()) }

func (w *Windows) keepWindows() error {
	at := w.At()
	if w.o.Log == nil || at.IsZero() {
		return nil
	}
	today := w.day(at)
	if today == w.logged {
		return nil
	}
	var all []forecastlog.Window
	for i, g := range w.exposures.Groups() {
		if w.exposures.Track(g.Track) == nil {
			return nil // the windows are those of before; soon there are others
		}
		h, ok := w.Hatch(g)
		v := published.Window(&h.Window)
		if !ok || !g.Waiting || v == nil || h.State == forecast.LateState {
			continue
		}
		if n := len(all); n > 0 && all[n-1].Clutch == g.Clutch && all[n-1].Box == g.Box {
			continue // the log has one of a clutch, a box and a day
		}
		all = append(all, forecastlog.Window{
			Clutch: g.Clutch, Box: g.Box, Day: today, Eggs: eggsApart(w.exposures.Groups(), i), At: at.UTC().Truncate(time.Second),
			CheckFrom: v.CheckFrom, Likely: v.Likely, LateAfter: v.LateAfter, Developed: h.Window.Developed,
		})
	}
	if len(all) > 0 {
		if err := w.o.Log.Keep(all); err != nil {
			return fmt.Errorf("keeping today's windows: %w", err)
		}
	}
	w.logged = today
	return nil
}

// eggsApart are the eggs of a group, where the box holds others of its clutch.
func eggsApart(groups []*track.Group, i int) (eggs []string) {
	same := func(j int) bool {
		return j >= 0 && j < len(groups) && groups[j].Clutch == groups[i].Clutch && groups[j].Box == groups[i].Box
	}
	if !same(i-1) && !same(i+1) {
		return nil
	}
	for _, e := range groups[i].Eggs {
		eggs = append(eggs, e.ID)
	}
	return eggs
}

// day is the date of a time where the station is.
func (w *Windows) day(at time.Time) string {
	if w.o.Plan.Location != nil {
		at = at.In(w.o.Plan.Location)
	}
	return at.Format(time.DateOnly)
}

// Logged gives the windows that were shown of a clutch, or of all clutches for an empty
// name. Any goroutine may call it.
func (w *Windows) Logged(clutch string) ([]snapshot.Shown, error) {
	if w.o.Log == nil {
		return []snapshot.Shown{}, nil
	}
	kept, err := w.o.Log.Load(clutch)
	if err != nil {
		return nil, err
	}
	return published.Shown(kept), nil
}

// Score compares the windows that were shown with the hatches in a book. Any goroutine may
// call it.
func (w *Windows) Score(b book.Book) (snapshot.Score, error) {
	kept, err := w.Logged("")
	if err != nil {
		return snapshot.Score{}, err
	}
	shown := make([]forecast.Shown, len(kept))
	for i, x := range kept {
		shown[i] = forecast.Shown{
			Clutch: x.Clutch, Box: x.Box, Eggs: x.Eggs, At: x.At, CheckFrom: x.Window.CheckFrom, Likely: x.Window.Likely, LateAfter: x.Window.LateAfter,
		}
	}
	return published.Score(forecast.ScoreShown(b, shown)), nil
}
