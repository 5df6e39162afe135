package windows

import (
	"fmt"
	"maps"
	"strings"

	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/forecastlog"
	"example.com/ootherm/thermal/track"
)

// latches are since when groups are to be checked daily, by [track.Group.ID], as they are
// stored.
type latches struct {
	stored map[string]forecastlog.Latch
	loaded bool
}

// load reads the stored latches once.
func (x *latches) load(l Log) {
	if x.loaded || l == nil {
		return
	}
	if all, err := l.Latches(); err == nil {
		x.stored, x.loaded = all, true
	} // else the states follow from the windows, and it is tried again
}

// storedLatch is the latch of a group that has no forecast yet. Eggs that moved to another
// box keep the latch of the group that they left, if it is gone.
func (w *Windows) storedLatch(g *track.Group) forecast.Latch {
	w.latches.load(w.o.Log)
	if x, ok := w.latches.stored[g.ID()]; ok {
		return forecast.Latch(x)
	}
	there := map[string]bool{}
	for _, other := range w.exposures.Groups() {
		there[other.ID()] = other.Waiting
	}
	for id, x := range w.latches.stored {
		if strings.HasPrefix(id, g.Clutch+"\x00") && !there[id] {
			return forecast.Latch(x)
		}
	}
	return forecast.Latch{}
}

// keepLatches stores the latches where they changed.
func (w *Windows) keepLatches() error {
	f := w.forecast.Load()
	if w.o.Log == nil || f.At.IsZero() {
		return nil
	}
	now := map[string]forecastlog.Latch{}
	for _, g := range w.exposures.Groups() {
		h, ok := f.Of(g)
		switch {
		case !ok && g.Waiting: // it is being rebuilt
			if x, stored := w.latches.stored[g.ID()]; stored {
				now[g.ID()] = x
			}
		case !h.Latch.Since.IsZero():
			x := forecastlog.Latch(h.Latch)
			x.Since = x.Since.UTC()
			now[g.ID()] = x
		}
	}
	w.latches.load(w.o.Log)
	if w.latches.loaded && maps.EqualFunc(now, w.latches.stored, func(a, b forecastlog.Latch) bool {
		return a.Since.Equal(b.Since) && a.Entries == b.Entries
	}) {
		return nil
	}
	if err := w.o.Log.KeepLatches(now); err != nil {
		return fmt.Errorf("keeping since when eggs are to be checked daily: %w", err)
	}
	w.latches = latches{stored: now, loaded: true}
	return nil
}
