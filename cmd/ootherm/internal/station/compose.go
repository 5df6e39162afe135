package station

import (
	"fmt"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// compose makes messages of what a step has to tell, one for each cause.
func (s *Station) compose() {
	told := s.out.told
	s.out.told = nil
	for _, b := range alert.Bundles(told, s.cause) {
		first := b.Events[0]
		k := first.Key
		id := s.panel.NextMessage(k)
		m := s.message(first, s.panel.Probe(k))
		if len(b.Events) > 1 {
			m = s.together(m, b.Events)
		}
		m.ID, m.Alarm = id, k.String()
		for _, to := range s.plan.Senders {
			if to.Takes(m) && k != rules.SenderFailing(to.Name) {
				m.Sender = to.Name
				s.out.messages = append(s.out.messages, m)
			}
		}
		if first.To != alert.Active {
			delete(s.out.likelyBefore, k)
		}
	}
}

// cause is what events of one step have in common; empty where nothing.
func (s *Station) cause(e alert.Event) string {
	end := "begins"
	if e.To != alert.Active {
		end = "ends"
	}
	if e.Gone {
		return "gone"
	}
	switch k := e.Key; k.Kind {
	case alert.ProbeSilent, alert.HumiditySilent, alert.WindowOpening, alert.Late, alert.Drying:
		return string(k.Kind) + end
	case alert.SingleEvent, alert.Cumulative:
		return string(k.Kind) + " in " + s.panel.Zone(k) + end
	case alert.DriftUp, alert.DriftDown, alert.RateOfChange:
		return "change in " + k.Zone + end
	case alert.TemperatureHigh, alert.TemperatureLow, alert.HumidityHigh, alert.HumidityLow:
		return string(k.Kind) + " in " + k.Zone + end
	}
	return ""
}

// together has a message tell of the other events of its cause too.
func (s *Station) together(m alert.Message, events []alert.Event) alert.Message {
	first, rest, _ := strings.Cut(m.Body, "\n")
	var b strings.Builder
	fmt.Fprintf(&b, "%s\nAlso:\n", first)
	for _, e := range events[1:] {
		said := words.Alarm(string(e.Key.Kind))
		line := s.headline(e, said)
		switch {
		case e.To == alert.Active && rules.IsExposure(e.Key.Kind):
			line = s.exposure(e.Key)
		case e.Gone:
			line = goneHeadline(s.place(e.Key), said)
		case e.To != alert.Active:
			line = strings.TrimSpace(words.Fine + " " + s.place(e.Key) + " " + said.Wrong + ": over")
		}
		fmt.Fprintf(&b, "  %s (%s)\n", line, e.Key.Priority)
	}
	if n := len(events) - 1; n == 1 {
		m.Subject += ", and one more"
	} else {
		m.Subject += fmt.Sprintf(", and %d more", n)
	}
	m.Body = b.String() + rest
	return m
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

// windowsBefore is when each clutch of a zone was likely to hatch by the last
// window that was shown of it before a time, of the day before that at the earliest.
func (s *Station) windowsBefore(zone string, at time.Time) map[string]time.Time {
	likely := map[string]time.Time{}
	kept, err := shownOf(s.o.Shown, "")
	if err != nil {
		return nil // the message goes without
	}
	last := map[string]time.Time{}
	for _, w := range kept {
		id := w.Clutch + "\x00" + w.Box
		if w.At.After(at) || at.Sub(w.At) > 48*time.Hour || w.At.Before(last[id]) {
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

// moved says what an excursion did to the windows of the eggs that felt it, on
// average; nothing where that is not known.
func (s *Station) moved(k alert.Key, began time.Time) string {
	if k.Kind != alert.TemperatureHigh && k.Kind != alert.TemperatureLow {
		return ""
	}
	before, noted := s.out.likelyBefore[k]
	if !noted { // the station restarted meanwhile
		before = s.windowsBefore(k.Zone, began)
	}
	if len(before) == 0 {
		return ""
	}
	s.outdateForecast()
	s.updateForecast()
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
		return ""
	}
	days := (sum / time.Duration(n)).Hours() / 24
	switch {
	case days >= 0.05:
		return fmt.Sprintf("windows %.1f d later", days)
	case days <= -0.05:
		return fmt.Sprintf("windows %.1f d earlier", -days)
	}
	return "windows as they were"
}
