package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/alarmpages"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/web/zones"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// alarmPage is one alarm: how long there is, what it is now, what to do, and which eggs are
// there.
type alarmPage struct {
	page.Frame
	Lead  *leadView // nil: it is over
	Left  string    // until the limit; empty: not known
	Steps []string
	Eggs  string
}

// alarm is where a message leads to: one alarm, and what can be done about it. To open it does
// nothing, so a mail scanner that follows every link acknowledges nothing; the buttons ask.
func (s firstPage) alarm(w http.ResponseWriter, r *http.Request) {
	n := s.State(w, r)
	if n == nil {
		return
	}
	v := alarmPage{Frame: s.Frame(n, "An alarm")}
	v.Here = "today"
	for _, a := range n.Alarms {
		if a.Key != r.URL.Query().Get("key") {
			continue
		}
		view := s.alarms.View(a, n)
		if s.Writer == nil || !s.Trusted(r) {
			view.Buttons = nil
		}
		if a.Alarm == string(alert.Drying) {
			view.Figures = alarmpages.ToPour(n, words.OrEmpty(a.Box))
		}
		lead, ok := s.leadOf(r.Context(), n, a, view)
		if !ok {
			return // the client went away
		}
		v.Lead, v.Steps, v.Eggs = lead, sentences(view.First), eggsOf(n, a)
		v.Title = view.Headline()
		if a.Coming != nil && !view.Recovered && a.Coming.About.After(n.At) {
			left := words.Span(a.Coming.About.Sub(n.At))
			v.Left = left + " left"
			v.Lead.Answers = slices.DeleteFunc(v.Lead.Answers, func(x answerView) bool { return x.Figure == left }) // said once
		}
	}
	s.Render(w, http.StatusOK, "alarm", v)
}

// leadOf is an alarm with its figures and a plot of its zone: of what comes, or else of the
// last day. It is false where the client went away.
func (s firstPage) leadOf(ctx context.Context, n *snapshot.Snapshot, a snapshot.Alarm, view alarmpages.View) (*leadView, bool) {
	i := slices.IndexFunc(n.Zones, func(z snapshot.Zone) bool { return z.Zone == words.OrEmpty(a.Zone) })
	if i < 0 {
		return s.lead(n, a, view, nil), true
	}
	z := n.Zones[i]
	t, err := s.zones.Trace(ctx, z, n.At)
	if err != nil {
		if ctx.Err() != nil {
			return nil, false
		}
		s.Log.Error("a zone's last day could not be read", "zone", z.Zone, "err", err)
		return s.lead(n, a, view, nil), true
	}
	lead := s.lead(n, a, view, map[string]zones.Trace{z.Zone: t})
	if f := s.zones.Figure(z, t, nil); f != nil && lead.Figure == "" {
		lead.Figure = f.HTML()
	}
	return lead, true
}

// sentences are the sentences of an advice, a step each.
func sentences(advice string) []string {
	var all []string
	begin := 0
	for i := 0; i+1 < len(advice); i++ {
		if strings.IndexByte(".?!", advice[i]) >= 0 && advice[i+1] == ' ' {
			all, begin = append(all, advice[begin:i+1]), i+2
		}
	}
	if begin < len(advice) {
		all = append(all, advice[begin:])
	}
	return all
}

// eggsOf says how many eggs wait where an alarm is, and in which boxes.
func eggsOf(n *snapshot.Snapshot, a snapshot.Alarm) string {
	eggs, boxes := 0, []string(nil)
	for _, b := range n.Boxes {
		if a.Box != nil && b.Box != *a.Box || a.Box == nil && (a.Zone == nil || b.Zone != *a.Zone) {
			continue
		}
		waiting := 0
		for _, c := range b.Clutches {
			waiting += len(page.Waiting(c))
		}
		if waiting > 0 {
			eggs, boxes = eggs+waiting, append(boxes, b.Box)
		}
	}
	if eggs == 0 {
		return ""
	}
	return fmt.Sprintf("%s there, in %s.", words.Count(eggs, "egg waits", "eggs wait"), strings.Join(boxes, ", "))
}
