package web

import (
	"cmp"
	"context"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/alarmpages"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/web/zones"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// firstPage shows all that the station watches.
type firstPage struct {
	*page.Site
	alarms  alarmpages.Pages
	zones   *zones.Views
	boxes   boxPages
	courses *courses
}

// headline says in one line what is wrong.
type headline struct {
	State                  page.Badge
	Headline, Detail, More string
	Lead                   *leadView
}

// leadView is the alarm of the headline.
type leadView struct {
	Alarm   alarmpages.View
	Answers []answerView
	Figure  template.HTML
}

// answerView is one large figure.
type answerView struct{ Word, Figure, Kind string }

type firstView struct {
	page.Frame
	headline
	alarmLists
	finishedList
	Today, Later       []taskView // Later is folded away
	Next               string
	Line               lineView
	Zones              []zones.View
	Unplaced, Writable bool
	Noting             bool // the book can be written in from here
	Doors              []notes.Door
}

// Beside reports whether the list of today stands beside an alarm's drawing.
func (v firstView) Beside() bool { return v.Lead != nil && v.Lead.Figure != "" }

// alarmLists are the alarms but for that of the headline.
type alarmLists struct {
	Alarms, Notices []alarmpages.View
	NoticesTitle    string
	Resting         []alarmpages.View
}

// finishedList are the clutches of which no egg waits.
type finishedList struct {
	Finished      []finishedView
	FinishedTitle string
}

func (s firstPage) page(w http.ResponseWriter, r *http.Request) {
	n := s.State(w, r)
	if n == nil {
		return
	}
	v := firstView{Frame: s.Frame(n, n.Station.Name), Writable: s.Writer != nil && s.Trusted(r)}
	v.Home, v.Here, v.Noting = true, "today", v.Writable && s.Book != nil
	traces, ok := s.zoneViews(r.Context(), n, &v)
	if !ok {
		return // the client went away
	}
	all := s.alarmViews(n, &v)
	v.Today, v.Next, v.Line, v.Unplaced = s.today(n, v.Noting), s.next(n), s.line(n), len(n.Unplaced) > 0
	if v.Finished = s.finished(n); len(v.Finished) > 0 {
		v.FinishedTitle = words.Count(len(v.Finished), "finished clutch", "finished clutches")
	}
	if v.Noting {
		v.Doors = slices.DeleteFunc(s.firstDoors(n), func(d notes.Door) bool {
			return slices.ContainsFunc(v.Today, func(t taskView) bool { return t.Door != nil && t.Door.Href == d.Href })
		})
	}
	s.headline(n, &v, all, traces)
	listed := min(tasksListed, len(v.Today))
	if v.Beside() {
		listed = min(tasksBeside, len(v.Today))
	}
	v.Today, v.Later = v.Today[:listed], v.Today[listed:]
	s.Render(w, http.StatusOK, "first", v)
}

// zones.Views adds the zones, the worst first, and returns their last days. It is false where
// the client went away.
func (s firstPage) zoneViews(ctx context.Context, n *snapshot.Snapshot, v *firstView) (map[string]zones.Trace, bool) {
	traces := map[string]zones.Trace{}
	var alarms []snapshot.PastAlarm
	if s.Incidents != nil {
		var err error
		if alarms, err = s.Incidents.Alarms(n.At.Add(-zones.Day), n.At); err != nil {
			s.Log.Error("the alarms that were could not be read", "err", err)
		}
	}
	for _, z := range n.Zones {
		view := s.zones.View(n, z)
		t, err := s.zones.Trace(ctx, z, n.At)
		if err != nil {
			if ctx.Err() != nil {
				return nil, false
			}
			s.Log.Error("a zone's last day could not be read", "zone", z.Zone, "err", err)
			view.PlotTrouble = "The last 24 hours could not be read; the station's log says why."
		} else if f := s.zones.Figure(z, t, alarms); f == nil {
			view.PlotTrouble = "Nothing was measured in the last 24 hours."
		} else {
			view.Figure, traces[z.Zone] = f.HTML(), t
		}
		v.Zones = append(v.Zones, view)
	}
	slices.SortStableFunc(v.Zones, func(a, b zones.View) int { return cmp.Compare(a.Rank, b.Rank) })
	return traces, true
}

// alarmViews adds the alarms and returns those that do not rest, the worst first. One that is
// part of a wider alarm is told by that.
func (s firstPage) alarmViews(n *snapshot.Snapshot, v *firstView) (standing []snapshot.Alarm) {
	for _, a := range alarmpages.Sorted(n.Alarms) {
		if a.State == "suppressed" {
			continue
		}
		view := s.alarms.View(a, n)
		if !v.Writable {
			view.Buttons = nil
		}
		if a.Alarm == string(alert.Drying) {
			view.Figures = alarmpages.ToPour(n, words.OrEmpty(a.Box))
		}
		if view.Resting {
			v.Resting = append(v.Resting, view)
		} else {
			v.Alarms, standing = append(v.Alarms, view), append(standing, a)
		}
	}
	return standing
}

// headline says in one line what is wrong. Notices that were seen are no longer wrong: the list
// of today tells of them.
func (s firstPage) headline(n *snapshot.Snapshot, v *firstView, alarms []snapshot.Alarm, traces map[string]zones.Trace) {
	off, offText := s.silenced(n)
	switch {
	case s.Stalled(n):
		v.State, v.Headline = page.Badge{Shape: words.Silent, Word: "stopped", Kind: page.KindSilent}, "What is below is old: the station stopped reporting "+words.Ago(s.Lag(n))
		v.Trouble = v.Trouble[1:] // the first of them says the same
	case offText != "" && (len(alarms) == 0 || alarms[0].Priority == "notice"):
		v.State, v.Headline = off, offText
	case slices.ContainsFunc(alarms, func(a snapshot.Alarm) bool { return a.Priority != "notice" || a.State != "acknowledged" }):
		a := v.Alarms[0]
		v.Alarms = v.Alarms[1:]
		v.State = a.Badge
		v.Headline = a.Headline()
		if a.Recovered {
			v.Headline += "; " + a.Figures
		}
		v.Lead = s.lead(n, alarms[0], a, traces)
		alarms = alarms[1:]
	case len(v.Zones) == 0:
		v.State, v.Headline = page.Badge{Shape: words.Silent, Word: "nothing watched", Kind: page.KindSilent}, "No zone is watched yet"
	case v.Zones[0].Rank < zones.RankFine:
		z := v.Zones[0]
		v.State, v.Headline = z.Badge, words.Capital(z.Name)+": "+z.Word
	case len(v.Trouble) > 0:
		v.State, v.Headline = page.Badge{Shape: words.Other, Word: "trouble", Kind: page.KindOther}, v.Trouble[0]
		if i := strings.IndexAny(v.Headline, ":;"); i > 0 { // what it is stands large, what follows from it below
			v.Headline, v.Detail = v.Headline[:i], words.Capital(v.Headline[i+2:])
		}
		v.Trouble = v.Trouble[1:]
	case slices.ContainsFunc(n.Alarms, func(a snapshot.Alarm) bool { return a.State == "out-of-service" }):
		v.State, v.Headline = page.Badge{Shape: words.Other, Word: "partly off", Kind: page.KindOther}, "The zones are in order; something is switched off for work"
	default:
		v.State, v.Headline = page.Badge{Shape: words.Fine, Word: "in order", Kind: page.KindFine}, "All is well"
	}
	// Notices about eggs and boxes say what the list of today says: they are folded.
	rest := v.Alarms
	v.Alarms = nil
	for i, a := range alarms {
		if a.Priority == "notice" {
			v.Notices = append(v.Notices, rest[i])
		} else {
			v.Alarms = append(v.Alarms, rest[i])
		}
	}
	v.More = others(len(v.Alarms))
	if len(v.Notices) > 0 {
		v.NoticesTitle = words.Count(len(v.Notices), "notice", "notices")
	}
}

func others(n int) string {
	if n == 0 {
		return ""
	}
	return "and " + words.Count(n, "more alarm", "more alarms")
}

// silenced says of a zone that is too warm or too cold that its alarm is off or quiet; the
// text is empty where there is none.
func (s firstPage) silenced(n *snapshot.Snapshot) (page.Badge, string) {
	for _, a := range alarmpages.Sorted(n.Alarms) {
		said := words.Alarm(a.Alarm)
		if a.Zone == nil || !a.Stands || !alarmpages.Resting(a) || a.State == "suppressed" || said.Quantity != words.Temperature {
			continue
		}
		for _, z := range n.Zones {
			if z.Zone == *a.Zone && z.Celsius != nil {
				var until time.Time
				if a.Until != nil {
					until = *a.Until
				}
				return page.Badge{Shape: said.Shape, Word: said.Wrong, Kind: page.KindOf(said.Shape)}, fmt.Sprintf("%s %s, %s; alarm %s", words.Capital(z.Zone), page.Tied(s.Reader.Temperature(*z.Celsius)), said.Wrong, words.Lower(s.Reader.State(a.State, until, n.At)))
			}
		}
	}
	return page.Badge{}, ""
}

// nowOf says what an alarm's value is: of several probes, that of one by its name, or of the
// coldest or the warmest.
func nowOf(n *snapshot.Snapshot, a snapshot.Alarm) string {
	said := words.Alarm(a.Alarm)
	for _, z := range n.Zones {
		if words.OrEmpty(a.Zone) != z.Zone || said.Quantity != words.Temperature || len(z.Probes) < 2 {
			continue
		}
		switch {
		case a.Probe != nil:
			return *a.Probe
		case said.Shape == words.Cold:
			return "coldest probe"
		case said.Shape == words.Warm:
			return "warmest probe"
		}
	}
	return "now"
}

// lead is the first alarm with its figures and, where it is known, what comes.
func (s firstPage) lead(n *snapshot.Snapshot, a snapshot.Alarm, view alarmpages.View, traces map[string]zones.Trace) *leadView {
	r, said := s.Reader, words.Alarm(a.Alarm)
	l := &leadView{Alarm: view}
	if view.Recovered {
		return l
	}
	switch value := r.Value(said.Quantity, a.Value); {
	case a.Alarm == string(alert.Drying) && view.Figures != "":
		l.Answers = append(l.Answers, answerView{Word: "of water", Figure: view.Figures})
	case a.Alarm == string(alert.SwitchedOff) || value == "":
	case said.Quantity == words.Age:
		l.Answers = append(l.Answers, answerView{Word: "so far", Figure: value})
	default:
		l.Answers = append(l.Answers, answerView{Word: nowOf(n, a), Figure: value})
	}
	if limit := r.Value(said.Quantity, a.Limit); limit != "" && len(l.Answers) > 0 && a.Coming == nil {
		l.Answers = append(l.Answers, answerView{Word: "limit", Figure: limit})
	}
	for _, z := range n.Zones {
		if words.OrEmpty(a.Zone) != z.Zone || said.Quantity != words.Temperature || a.Coming == nil {
			continue
		}
		l.Answers = append(l.Answers, answerView{Word: "to " + r.Temperature(a.Coming.Limit), Figure: words.Span(a.Coming.About.Sub(n.At)), Kind: page.KindOf(said.Shape)})
		if t, ok := traces[z.Zone]; ok {
			if f := s.zones.ComingFigure(z, t, *a.Coming, n.At); f != nil {
				l.Figure = f.HTML()
			}
		}
	}
	return l
}
