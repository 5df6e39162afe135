package messages

import (
	"time"

	"example.com/ootherm/alert"
)

// windowKeptFor is how long before an excursion the last logged window of a clutch may be
// (our choice): a window is logged once a day.
const windowKeptFor = 48 * time.Hour

// KeepWindows keeps when each clutch of a zone was likely to hatch as an excursion began, so
// that the message of its end can give the difference.
func (m *Messages) KeepWindows(began alert.Key) {
	if began.Kind != alert.TemperatureHigh && began.Kind != alert.TemperatureLow {
		return
	}
	likely := map[string]time.Time{}
	for _, g := range m.o.Exposures.Groups() {
		if h, ok := m.o.Windows.Hatch(g); ok && g.Waiting && g.Zone == began.Zone && h.Window.Exists() {
			likely[g.ID()] = h.Window.Likely
		}
	}
	m.likelyBefore[began] = likely
}

// windowsBefore is when each clutch of a zone was likely to hatch by the last window that was
// logged of it before a time.
func (m *Messages) windowsBefore(zone string, at time.Time) map[string]time.Time {
	likely := map[string]time.Time{}
	kept, err := m.o.Windows.Logged("")
	if err != nil {
		return nil // the message goes without
	}
	last := map[string]time.Time{}
	for _, w := range kept {
		id := w.Clutch + "\x00" + w.Box
		if w.At.After(at) || at.Sub(w.At) > windowKeptFor || w.At.Before(last[id]) {
			continue
		}
		last[id], likely[id] = w.At, w.Window.Likely
	}
	for _, g := range m.o.Exposures.Groups() {
		if !g.Waiting || g.Zone != zone {
			delete(likely, g.ID())
		}
	}
	return likely
}

// windowsMoved is by how much each excursion that ended moved the windows of the eggs that
// felt it, on average; without those where it is not known. It computes the forecast first.
func (m *Messages) windowsMoved(events []alert.Event) map[alert.Key]*time.Duration {
	before := map[alert.Key]map[string]time.Time{}
	for _, e := range events {
		k := e.Key
		if e.To == alert.Active || e.Gone || k.Kind != alert.TemperatureHigh && k.Kind != alert.TemperatureLow {
			continue
		}
		likely, kept := m.likelyBefore[k]
		if !kept { // the station restarted meanwhile
			likely = m.windowsBefore(k.Zone, e.Began)
		}
		if len(likely) > 0 {
			before[k] = likely
		}
	}
	if len(before) == 0 {
		return nil
	}
	m.o.Windows.Outdate()
	m.o.Windows.Update(m.o.Now())
	moved := map[alert.Key]*time.Duration{}
	for k, likely := range before {
		if by, ok := m.meanMove(likely); ok {
			moved[k] = &by
		}
	}
	return moved
}

// meanMove is by how much the windows of groups moved from when each was likely to hatch.
func (m *Messages) meanMove(before map[string]time.Time) (time.Duration, bool) {
	var sum time.Duration
	n := 0
	for _, g := range m.o.Exposures.Groups() {
		h, ok := m.o.Windows.Hatch(g)
		if at, was := before[g.ID()]; was && ok && h.Window.Exists() && !h.Window.Late {
			sum += h.Window.Likely.Sub(at)
			n++
		}
	}
	if n == 0 {
		return 0, false
	}
	return sum / time.Duration(n), true
}
