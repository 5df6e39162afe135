package web

import (
	"fmt"
	"net/http"
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
		traces := map[string]zones.Trace{}
		for _, z := range n.Zones {
			if z.Zone != words.OrEmpty(a.Zone) {
				continue
			}
			t, err := s.zones.Trace(r.Context(), z, n.At)
			if err != nil {
				if r.Context().Err() != nil {
					return // the client went away
				}
				s.Log.Error("a zone's last day could not be read", "zone", z.Zone, "err", err)
				continue
			}
			traces[z.Zone] = t
			if f := s.zones.Figure(z, t, nil); f != nil && a.Coming == nil {
				v.Lead = &leadView{Figure: f.HTML()}
			}
		}
		lead := s.lead(n, a, view, traces)
		if lead.Figure == "" && v.Lead != nil {
			lead.Figure = v.Lead.Figure
		}
		v.Lead, v.Steps, v.Eggs = lead, sentences(view.First), eggsOf(n, a)
		v.Title = words.Capital(view.Where) + " " + view.Word
		if a.Coming != nil && !view.Recovered && a.Coming.About.After(n.At) {
			v.Left = words.Span(a.Coming.About.Sub(n.At)) + " left"
		}
	}
	s.Render(w, http.StatusOK, "alarm", v)
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
