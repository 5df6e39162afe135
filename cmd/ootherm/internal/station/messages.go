package station

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/notice"
)

// windowKeptFor is how long before an excursion the last logged window of a clutch may be
// (our choice): a window is logged once a day.
const windowKeptFor = 48 * time.Hour

// compose makes the messages of a step, one for each cause and each sender that takes it.
func (s *Station) compose() {
	events := s.out.told
	s.out.told = nil
	if len(events) == 0 {
		return
	}
	keys := map[string]alert.Key{}
	for _, e := range events {
		keys[e.Key.String()] = e.Key
	}
	for _, m := range notice.Compose(events, s.facts(events), s.reader()) {
		k := keys[m.Alarm]
		m.ID = s.panel.NextMessage(k)
		for _, to := range s.plan.Senders {
			if to.Takes(m) && k != rules.SenderFailing(to.Name) {
				m.Sender = to.Name
				s.out.messages = append(s.out.messages, m)
			}
		}
	}
	for _, e := range events {
		if e.To != alert.Active {
			delete(s.out.likelyBefore, e.Key)
		}
	}
}

// noteWindows keeps when each clutch of a zone was likely to hatch as an excursion
// began, so that its end can say what it did.
func (s *Station) noteWindows(k alert.Key) {
	if k.Kind != alert.TemperatureHigh && k.Kind != alert.TemperatureLow {
		return
	}
	likely := map[string]time.Time{}
	for _, g := range s.groups() {
		if r, ok := s.hatch(g); ok && g.Waiting && g.Zone == k.Zone && r.Window.Exists() {
			likely[g.ID()] = r.Window.Likely
		}
	}
	s.out.likelyBefore[k] = likely
}

// windowsBefore is when each clutch of a zone was likely to hatch by the last window that was
// logged of it before a time.
func (s *Station) windowsBefore(zone string, at time.Time) map[string]time.Time {
	likely := map[string]time.Time{}
	kept, err := shownOf(s.o.Shown, "")
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
	for _, g := range s.groups() {
		if !g.Waiting || g.Zone != zone {
			delete(likely, g.ID())
		}
	}
	return likely
}

// windowsMoved is by how much each excursion that ended moved the windows of the eggs that
// felt it, on average; without those where it is not known. It computes the forecast first.
func (s *Station) windowsMoved(events []alert.Event) map[alert.Key]*time.Duration {
	before := map[alert.Key]map[string]time.Time{}
	for _, e := range events {
		k := e.Key
		if e.To == alert.Active || e.Gone || k.Kind != alert.TemperatureHigh && k.Kind != alert.TemperatureLow {
			continue
		}
		likely, noted := s.out.likelyBefore[k]
		if !noted { // the station restarted meanwhile
			likely = s.windowsBefore(k.Zone, e.Began)
		}
		if len(likely) > 0 {
			before[k] = likely
		}
	}
	if len(before) == 0 {
		return nil
	}
	s.outdateForecast()
	s.updateForecast()
	moved := map[alert.Key]*time.Duration{}
	for k, likely := range before {
		if by, ok := s.meanMove(likely); ok {
			moved[k] = &by
		}
	}
	return moved
}

// meanMove is by how much the windows of groups moved from when each was likely to hatch.
func (s *Station) meanMove(before map[string]time.Time) (time.Duration, bool) {
	var sum time.Duration
	n := 0
	for _, g := range s.groups() {
		r, ok := s.hatch(g)
		if at, was := before[g.ID()]; was && ok && r.Window.Exists() && !r.Window.Late {
			sum += r.Window.Likely.Sub(at)
			n++
		}
	}
	if n == 0 {
		return 0, false
	}
	return sum / time.Duration(n), true
}
