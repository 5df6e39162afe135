package web

import (
	"net/http"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// alarmPages shows alarms, and takes what a person does about them.
type alarmPages struct{ *server }

type alarmView struct {
	badge
	Place, Where, Figures, Since, Peak, State, Priority, First, Coming, Detail string
	Urgent, Resting, Recovered                                                 bool
	alarmActions
}

// alarmActions are what a person can do about an alarm.
type alarmActions struct {
	Key, Back string // Back leads to what happened
	Buttons   []button
}

// button is one thing to do about an alarm. For is how long, of a quiet.
type button struct{ Do, For, Text string }

type alarmPage struct {
	frame
	Alarm *alarmView // nil: it is over
}

// page is where a message leads to: one alarm, and what can be done about it. To
// open it does nothing, so a mail scanner that follows every link acknowledges
// nothing; the buttons ask.
func (s alarmPages) page(w http.ResponseWriter, r *http.Request) {
	n := s.state(w, r)
	if n == nil {
		return
	}
	key := r.URL.Query().Get("key")
	v := alarmPage{frame: s.frame(n, "An alarm")}
	for _, a := range n.Alarms {
		if a.Key == key {
			view := s.view(a, n)
			if s.Writer == nil || !s.trusted(r) {
				view.Buttons = nil
			}
			if a.Alarm == string(alert.Drying) {
				view.Figures = toPour(n, text(a.Box))
			}
			v.Alarm = &view
		}
	}
	s.render(w, http.StatusOK, "alarm", v)
}

func (s alarmPages) view(a snapshot.Alarm, n *snapshot.Snapshot) alarmView {
	r, said, at := s.Reader, words.Alarm(a.Alarm), n.At
	back, figures, recovered := words.Recovered(s.Reader, a, n)
	if recovered {
		said = back
	}
	var until time.Time
	if a.Until != nil {
		until = *a.Until
	}
	v := alarmView{
		badge: badge{said.Shape, said.Wrong, kindOf(said.Shape)},
		Place: words.Place(a.AlarmPlace), State: words.Capital(r.State(a.State, until, at)), Priority: words.Capital(words.Priority(a.Priority)),
		Since: r.When(a.Since, at) + " (" + words.Span(at.Sub(a.Since)) + ")",
		Peak:  peak(a, r.Value(said.Quantity, a.Peak)), First: said.First,
		Urgent: a.Priority == "critical", Resting: resting(a),
		alarmActions: alarmActions{Key: a.Key},
	}
	if s.Incidents != nil {
		v.Back = incidentHref(a.Since.Add(-aside), at)
	}
	// In short, a zone goes without the probe that was worst in it.
	v.Where = v.Place
	if said.Quantity == words.Temperature || said.Quantity == words.Humidity {
		brief := a.AlarmPlace
		if a.Zone != nil || a.Box != nil {
			brief.Probe = nil
		}
		v.Where = words.Place(brief)
	}
	v.Figures = r.Value(said.Quantity, a.Value)
	if limit := r.Value(said.Quantity, a.Limit); limit != "" && v.Figures != "" {
		v.Figures = strings.TrimSpace(v.Figures + " (limit " + limit + ")")
	}
	v.Figures = tied(v.Figures)
	v.Detail = tied(text(a.Detail))
	if a.Alarm == switchedOff && a.Detail != nil { // it says what is wrong, with the figure
		v.Word, v.Figures, v.Detail = v.Detail, "", ""
	}
	if a.Coming != nil {
		v.Coming = tied(r.Coming(*a.Coming, at))
	}
	if past := words.PastSafe(r, a, n); past != "" {
		v.Coming = tied(past)
	}
	if recovered {
		v.Recovered, v.Figures, v.Urgent, v.Coming = true, tied(figures), false, ""
		v.Priority = "It was " + a.Priority
	}
	if a.State == "active" || a.State == "returned" || a.State == "shelved" && a.Stands && !a.Seen {
		v.Buttons = append(v.Buttons, button{Acknowledge, "", "I have seen it"})
	}
	switch {
	case v.Resting && a.State == "acknowledged": // nothing is left to do
	case a.Alarm == switchedOff && (a.State == "active" || a.State == "acknowledged"):
		v.Buttons = append(v.Buttons, button{InService, "", "Back from work"})
	case a.State == "active" || a.State == "acknowledged":
		v.Buttons = append(v.Buttons, button{Shelve, "1h", "Quiet for 1 h"}, button{OutOfService, "", "Off for work"})
	case a.State == "shelved":
		if a.Stands {
			v.State += ", and it lasts"
			if a.Seen {
				v.State += "; seen"
			}
			v.Buttons = append(v.Buttons, button{Shelve, "8h", "Quiet for 8 h"})
		}
		v.Buttons = append(v.Buttons, button{Unshelve, "", "End the quiet"})
	case a.State == "out-of-service":
		v.Buttons = append(v.Buttons, button{InService, "", "Back from work"})
	}
	return v
}

// peak says how bad it was at the worst: of what is too low, the lowest.
func peak(a snapshot.Alarm, value string) string {
	switch {
	case value == "":
		return ""
	case strings.HasSuffix(a.Alarm, "-low"):
		return "lowest " + value
	}
	return "peak " + value
}

// resting reports whether an alarm was put aside by a person or by another. What
// eggs felt in all is not undone: once somebody has seen it, it no longer stands
// before everything else for as long as they wait.
func resting(a snapshot.Alarm) bool {
	switch a.State {
	case "shelved", "suppressed", "out-of-service":
		return true
	}
	return a.State == "acknowledged" && a.Alarm == string(alert.Cumulative)
}
