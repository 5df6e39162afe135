// Package alarmpages shows alarms and what happened in a span of time, and takes what a person does
// about an alarm. It must not know of boxes or windows.
package alarmpages

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book/husbandry"
)

// Pages shows alarms, and takes what a person does about them.
type Pages struct{ *page.Site }

// View is an alarm as a page shows it.
type View struct {
	page.Badge
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

// View makes what a page shows of an alarm. Buttons are those that a person may press.
func (s Pages) View(a snapshot.Alarm, n *snapshot.Snapshot) View {
	r, said, at := s.Reader, words.Alarm(a.Alarm), n.At
	back, figures, recovered := words.Recovered(s.Reader, a, n)
	if recovered {
		said = back
	}
	var until time.Time
	if a.Until != nil {
		until = *a.Until
	}
	v := View{
		Badge: page.Badge{Shape: said.Shape, Word: said.Wrong, Kind: page.KindOf(said.Shape)},
		Place: words.Place(a.AlarmPlace), State: words.Capital(r.State(a.State, until, at)), Priority: words.Capital(words.Urgency(a)),
		Since: r.When(a.Since, at) + " (" + words.Span(at.Sub(a.Since)) + ")",
		Peak:  peak(a, said.Quantity, r), First: cmp.Or(a.First, said.First),
		Urgent: a.Priority == "critical", Resting: Resting(a),
		alarmActions: alarmActions{Key: a.Key},
	}
	if a.Probe != nil { // its place names it
		v.Word = strings.TrimPrefix(v.Word, "probe ")
	}
	if s.Incidents != nil {
		v.Back = IncidentHref(a.Since.Add(-Aside), at)
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
	v.Figures = page.Tied(v.Figures)
	v.Detail = page.Tied(cmp.Or(a.DetailIn[string(r.Units)], words.OrEmpty(a.Detail)))
	if a.Alarm == string(alert.SwitchedOff) && a.Detail != nil { // it says what is wrong, with the figure
		v.Word, v.Figures, v.Detail = v.Detail, "", ""
	}
	if a.Alarm == string(alert.Drying) && a.Box == nil {
		v.Word = "dries its boxes fast"
	}
	if a.Coming != nil {
		v.Coming = page.Tied(r.Coming(*a.Coming, at))
	}
	if past := words.PastSafe(r, a, n); past != "" {
		v.Coming = page.Tied(past)
	}
	if recovered {
		v.Recovered, v.Figures, v.Urgent, v.Coming, v.First = true, page.Tied(figures), false, "", said.First
		v.Priority = "It was " + a.Priority
	}
	if a.State == "shelved" && a.Stands {
		v.State += ", and it lasts"
		if a.Seen {
			v.State += "; seen"
		}
	}
	v.addButtons(a)
	return v
}

// Headline says where it is and what is wrong. What is wrong with the station needs no place.
func (v View) Headline() string {
	if v.Where == words.Place(snapshot.AlarmPlace{}) {
		return words.Capital(v.Word)
	}
	return words.Capital(v.Where) + " " + v.Word
}

// addButtons adds what a person can do about an alarm.
func (v *View) addButtons(a snapshot.Alarm) {
	if a.State == "active" || a.State == "returned" || a.State == "shelved" && a.Stands && !a.Seen {
		v.Buttons = append(v.Buttons, button{page.Acknowledge, "", "I have seen it"})
	}
	switch {
	case v.Resting && a.State == "acknowledged": // nothing is left to do
	case a.Alarm == string(alert.SwitchedOff) && (a.State == "active" || a.State == "acknowledged"):
		v.Buttons = append(v.Buttons, button{page.InService, "", "Turn it on again"})
	case a.State == "active" || a.State == "acknowledged":
		v.Buttons = append(v.Buttons, button{page.Shelve, "1h", "Quiet for 1 h"}, button{page.OutOfService, "", "Turn this alarm off"})
	case a.State == "shelved":
		if a.Stands {
			v.Buttons = append(v.Buttons, button{page.Shelve, "8h", "Quiet for 8 h"})
		}
		v.Buttons = append(v.Buttons, button{page.Unshelve, "", "End the quiet"})
	case a.State == "out-of-service":
		v.Buttons = append(v.Buttons, button{page.InService, "", "Turn it on again"})
	}
}

// peak says how bad it was at the worst: of what is too low, the lowest. Of an age it is the
// present one.
func peak(a snapshot.Alarm, of words.Quantity, r words.Reader) string {
	value := r.Value(of, a.Peak)
	switch {
	case value == "" || of == words.Age:
		return ""
	case strings.HasSuffix(a.Alarm, "-low"):
		return "lowest " + value
	}
	return "peak " + value
}

// resting reports whether an alarm was put Aside by a person or by another. What
// eggs felt in all is not undone: once somebody has seen it, it no longer stands
// before everything else for as long as they wait.
func Resting(a snapshot.Alarm) bool {
	switch a.State {
	case "shelved", "suppressed", "out-of-service":
		return true
	}
	return a.State == "acknowledged" && a.Alarm == string(alert.Cumulative)
}

// Sorted is the alarms, worst first: those nobody has seen, then by priority, then by when a safe
// limit may be reached, then the oldest.
func Sorted(alarms []snapshot.Alarm) []snapshot.Alarm {
	states := []string{"active", "acknowledged", "returned", "shelved", "suppressed", "out-of-service"}
	priorities := []string{"critical", "warning", "notice"}
	place := func(list []string, s string) int {
		if i := slices.Index(list, s); i >= 0 {
			return i
		}
		return len(list)
	}
	out := slices.Clone(alarms)
	slices.SortStableFunc(out, func(a, b snapshot.Alarm) int {
		open := func(x snapshot.Alarm) int { // seen or not, it still holds
			if at := place(states, x.State); at > 1 || x.Recovery == nil {
				return max(1, at)
			}
			return place(states, "returned") // its value is back
		}
		return cmp.Or(
			cmp.Compare(open(a), open(b)),
			cmp.Compare(place(priorities, a.Priority), place(priorities, b.Priority)),
			cmp.Compare(place(states, a.State), place(states, b.State)),
			compareComing(a.Coming, b.Coming),
			a.Since.Compare(b.Since),
		)
	})
	return out
}

// compareComing puts what comes sooner first, and what comes before what does not.
func compareComing(a, b *snapshot.Coming) int {
	switch {
	case a != nil && b != nil:
		return a.About.Compare(b.About)
	case a != nil:
		return -1
	case b != nil:
		return 1
	}
	return 0
}

// toPour is what a box's alarm asks for, in short; nothing before it is weighed
// again.
func ToPour(n *snapshot.Snapshot, box string) string {
	i := slices.IndexFunc(n.Boxes, func(b snapshot.Box) bool { return b.Box == box })
	if i < 0 || n.Boxes[i].Medium == nil {
		return ""
	}
	m := n.Boxes[i].Medium
	if m.Warning != nil || words.OnlyForetold(*m, husbandry.DryShare) || m.AddLow == nil || m.AddHigh == nil {
		return ""
	}
	return "add " + words.Range(*m.AddLow, *m.AddHigh)
}
