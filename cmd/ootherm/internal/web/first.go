package web

import (
	"cmp"
	"context"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// frame is what every page has around it.
type frame struct {
	Title, Station, Version string
	At, AtISO               string
	Trouble                 []string // with the station itself
	Undelivered             []string // of senders whose alarm messages do not get out
	Home                    bool     // this is the first page
	Places                  []placeView
	Here                    string // the place that the page belongs to
	Notice                  string // of what is shown; empty: none
	Leave                   bool   // there is a passphrase, so one can leave
	Style                   string // a style sheet of its own, for what is meant to be printed
}

// badge is a state as a shape and a word; Kind is its class in the style sheet.
type badge struct{ Shape, Word, Kind string }

// kinds of badge, from the worst.
const (
	kindWarm   = "warm"
	kindCold   = "cold"
	kindOther  = "other"
	kindSilent = "silent"
	kindFine   = "fine"
)

func kindOf(shape string) string {
	switch shape {
	case words.Warm:
		return kindWarm
	case words.Cold:
		return kindCold
	case words.Silent:
		return kindSilent
	case words.Fine:
		return kindFine
	}
	return kindOther
}

type probeView struct {
	badge
	Name, Figures, Age string
}

type zoneView struct {
	badge
	moistureView
	zonePlotView
	earlyWarningView
	Name, Sort, Temperature, Trend, Age, SetPoint, Wanted, Safe, Apart string
	Probes                                                             []probeView
	rank                                                               int
}

// moistureView is how moist the air is, and how moist it should be.
type moistureView struct{ Humidity, Damp, Dew, Vapour, Drying string }

// firstPage shows all that the station watches.
type firstPage struct {
	*server
	alarms  alarmPages
	zones   *zoneViews
	boxes   boxPages
	courses *courses
}

// headline says in one line what is wrong.
type headline struct {
	State          badge
	Headline, More string
	Lead           *leadView
}

// leadView is the alarm of the headline.
type leadView struct {
	Alarm   alarmView
	Answers []answerView
	Figure  template.HTML
}

// answerView is one large figure.
type answerView struct{ Word, Figure, Kind string }

type firstView struct {
	frame
	headline
	alarmLists
	finishedList
	Today              []taskView
	Next               string
	Line               lineView
	Zones              []zoneView
	Unplaced, Writable bool
	Noting             bool // the book can be written in from here
	Doors              []doorView
}

// alarmLists are the alarms but for that of the headline.
type alarmLists struct {
	Alarms, Notices []alarmView
	NoticesTitle    string
	Resting         []alarmView
}

// finishedList are the clutches of which no egg waits.
type finishedList struct {
	Finished      []finishedView
	FinishedTitle string
}

func (s *server) frame(n *snapshot.Snapshot, title string) frame {
	f := frame{Title: title, Station: n.Station.Name, Version: n.Station.Version,
		At: s.Reader.When(n.At, s.Clock()), AtISO: n.At.UTC().Format(time.RFC3339), Notice: s.Notice, Leave: s.Access != nil, Places: s.places()}
	for _, t := range s.ill() {
		f.Trouble = append(f.Trouble, words.Capital(t)+".")
	}
	if n.Station.Clock == "unverified" {
		f.Trouble = append(f.Trouble, "The time of day is not verified: no time server has answered since the start. Dates and windows may be off.")
	}
	for _, d := range n.Health.Deliveries {
		if t := words.Undelivered(s.Reader, d, n.At); t != "" {
			f.Undelivered = append(f.Undelivered, t)
		}
	}
	if n.Health.Waiting > 0 {
		t := words.Count(n.Health.Waiting, "message", "messages") + " waiting to be delivered"
		if n.Health.OldestWaiting != nil {
			t += ", the oldest since " + s.Reader.When(*n.Health.OldestWaiting, n.At)
		}
		f.Trouble = append(f.Trouble, t+".")
	}
	return f
}

// frameOrBare is the frame of a page that needs no state: without a state it says
// nothing of the station.
func (s *server) frameOrBare(title string) frame {
	if n := s.Source.Now(); n != nil {
		return s.frame(n, title)
	}
	return frame{Title: title, Station: "ootherm"}
}

// tied keeps a figure and its unit on one line.
func tied(s string) string {
	return strings.NewReplacer(" °", "\u00a0°", " %", "\u00a0%").Replace(s)
}

func (s firstPage) page(w http.ResponseWriter, r *http.Request) {
	n := s.state(w, r)
	if n == nil {
		return
	}
	v := firstView{frame: s.frame(n, n.Station.Name), Writable: s.Writer != nil && s.trusted(r)}
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
		v.Doors = s.firstDoors(n)
	}
	s.headline(n, &v, all, traces)
	w.Header().Set("Refresh", "60")
	s.render(w, http.StatusOK, "first", v)
}

// zoneViews adds the zones, the worst first, and returns their last days. It is false where
// the client went away.
func (s firstPage) zoneViews(ctx context.Context, n *snapshot.Snapshot, v *firstView) (map[string]trace, bool) {
	traces := map[string]trace{}
	var alarms []snapshot.PastAlarm
	if s.Incidents != nil {
		var err error
		if alarms, err = s.Incidents.Alarms(n.At.Add(-day), n.At); err != nil {
			s.log.Error("the alarms that were could not be read", "err", err)
		}
	}
	for _, z := range n.Zones {
		view := s.zones.view(n, z)
		t, err := s.zones.trace(ctx, z, n.At)
		if err != nil {
			if ctx.Err() != nil {
				return nil, false
			}
			s.log.Error("a zone's last day could not be read", "zone", z.Zone, "err", err)
			view.PlotTrouble = "The last 24 hours could not be read; the station's log says why."
		} else if f := s.zones.figure(z, t, alarms); f == nil {
			view.PlotTrouble = "Nothing was measured in the last 24 hours."
		} else {
			view.Figure, traces[z.Zone] = f.HTML(), t
		}
		v.Zones = append(v.Zones, view)
	}
	slices.SortStableFunc(v.Zones, func(a, b zoneView) int { return cmp.Compare(a.rank, b.rank) })
	return traces, true
}

// alarmViews adds the alarms and returns those that do not rest, the worst first.
func (s firstPage) alarmViews(n *snapshot.Snapshot, v *firstView) (standing []snapshot.Alarm) {
	for _, a := range sorted(n.Alarms) {
		view := s.alarms.view(a, n)
		if !v.Writable {
			view.Buttons = nil
		}
		if a.Alarm == string(alert.Drying) {
			view.Figures = toPour(n, text(a.Box))
		}
		if view.Resting {
			v.Resting = append(v.Resting, view)
		} else {
			v.Alarms, standing = append(v.Alarms, view), append(standing, a)
		}
	}
	return standing
}

// headline says in one line what is wrong.
func (s firstPage) headline(n *snapshot.Snapshot, v *firstView, alarms []snapshot.Alarm, traces map[string]trace) {
	off, offText := s.silenced(n)
	switch {
	case s.stalled(n):
		v.State, v.Headline = badge{words.Silent, "stopped", kindSilent}, "What is below is old: the station stopped reporting "+words.Ago(s.lag(n))
	case offText != "" && (len(alarms) == 0 || alarms[0].Priority == "notice"):
		v.State, v.Headline = off, offText
	case len(alarms) > 0:
		a := v.Alarms[0]
		v.Alarms = v.Alarms[1:]
		v.State = a.badge
		v.Headline = words.Capital(a.Where) + " " + a.Word
		if a.Recovered {
			v.Headline += "; " + a.Figures
		}
		v.Lead = s.lead(n, alarms[0], a, traces)
		alarms = alarms[1:]
	case len(v.Zones) == 0:
		v.State, v.Headline = badge{words.Silent, "nothing watched", kindSilent}, "No zone is watched yet"
	case v.Zones[0].rank < rankFine:
		z := v.Zones[0]
		v.State, v.Headline = z.badge, words.Capital(z.Name)+": "+z.Word
	case len(v.Trouble) > 0:
		v.State, v.Headline = badge{words.Other, "trouble", kindOther}, v.Trouble[0]
		v.Trouble = v.Trouble[1:]
	case slices.ContainsFunc(n.Alarms, func(a snapshot.Alarm) bool { return a.State == "out-of-service" }):
		v.State, v.Headline = badge{words.Other, "partly off", kindOther}, "The zones are in order; something is switched off for work"
	default:
		v.State, v.Headline = badge{words.Fine, "in order", kindFine}, "All is well"
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
func (s firstPage) silenced(n *snapshot.Snapshot) (badge, string) {
	for _, a := range sorted(n.Alarms) {
		said := words.Alarm(a.Alarm)
		if a.Zone == nil || !a.Stands || !resting(a) || a.State == "suppressed" || said.Quantity != words.Temperature {
			continue
		}
		for _, z := range n.Zones {
			if z.Zone == *a.Zone && z.Celsius != nil {
				var until time.Time
				if a.Until != nil {
					until = *a.Until
				}
				return badge{said.Shape, said.Wrong, kindOf(said.Shape)}, fmt.Sprintf("%s %s, %s; alarm %s", words.Capital(z.Zone), tied(s.Reader.Temperature(*z.Celsius)), said.Wrong, words.Lower(s.Reader.State(a.State, until, n.At)))
			}
		}
	}
	return badge{}, ""
}

// lead is the first alarm with its figures and, where it is known, what comes.
func (s firstPage) lead(n *snapshot.Snapshot, a snapshot.Alarm, view alarmView, traces map[string]trace) *leadView {
	r, said := s.Reader, words.Alarm(a.Alarm)
	l := &leadView{Alarm: view}
	if view.Recovered {
		return l
	}
	switch value := r.Value(said.Quantity, a.Value); {
	case a.Alarm == string(alert.Drying) && view.Figures != "":
		l.Answers = append(l.Answers, answerView{Word: "of water", Figure: view.Figures})
	case a.Alarm == switchedOff || value == "":
	case said.Quantity == words.Age:
		l.Answers = append(l.Answers, answerView{Word: "so far", Figure: value})
	default:
		l.Answers = append(l.Answers, answerView{Word: "now", Figure: value})
	}
	if limit := r.Value(said.Quantity, a.Limit); limit != "" && len(l.Answers) > 0 && a.Coming == nil {
		l.Answers = append(l.Answers, answerView{Word: "limit", Figure: limit})
	}
	for _, z := range n.Zones {
		if text(a.Zone) != z.Zone || said.Quantity != words.Temperature || a.Coming == nil {
			continue
		}
		l.Answers = append(l.Answers, answerView{Word: "to " + r.Temperature(a.Coming.Limit), Figure: words.Span(a.Coming.About.Sub(n.At)), Kind: kindOf(said.Shape)})
		if t, ok := traces[z.Zone]; ok {
			if f := s.zones.comingFigure(z, t, *a.Coming, n.At); f != nil {
				l.Figure = f.HTML()
			}
		}
	}
	return l
}

// sorted is the alarms, worst first: those nobody has seen, then by priority,
// then the oldest.
func sorted(alarms []snapshot.Alarm) []snapshot.Alarm {
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
			a.Since.Compare(b.Since),
		)
	})
	return out
}

func text(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}

// How bad a zone is, from the worst. A zone with an alarm comes before these, in
// the order of the alarms.
const (
	rankSilent = 1<<20 + iota
	rankOut
	rankUneasy
	rankFine
)

func boxHref(name string) string    { return "/b/" + url.PathEscape(name) }
func clutchHref(name string) string { return "/c/" + url.PathEscape(name) }
