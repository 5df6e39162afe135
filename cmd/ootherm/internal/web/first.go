package web

import (
	"cmp"
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
	Home                    bool     // this is the first page
	Leave                   bool     // there is a passphrase, so one can leave
	Style                   string   // a style sheet of its own, for what is meant to be printed
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

type alarmView struct {
	badge
	Place, Where, Figures, Since, Peak, State, Priority, First, Coming, Detail string
	Urgent, Resting                                                            bool
	Key, Back                                                                  string // Back leads to what happened
	Buttons                                                                    []button
}

// button is one thing to do about an alarm. For is how long, of a quiet.
type button struct{ Do, For, Text string }

type probeView struct {
	badge
	Name, Figures, Age string
}

type zoneView struct {
	badge
	Name, Sort, Temperature, Humidity, Trend, Age, SetPoint, Wanted, Safe, Damp, Dew, Vapour, Drying, Apart string
	Probes                                                                                                  []probeView
	Plot                                                                                                    *plot
	PlotTrouble                                                                                             string
	rank                                                                                                    int
}

type boxView struct {
	badge                        // of its most pressing clutch
	Name, Href, Zone, Felt, Soon string
	Clutches                     []clutchView
	rank                         order
}

type nextView struct {
	Lead, Text, Href string
	rank             order
}

type firstView struct {
	frame
	State    badge
	Headline string
	More     string
	Due      []nextView
	DueMore  int
	Look     string // into lay boxes, today
	Dams     []damView
	Alarms   []alarmView
	Resting  []alarmView
	Zones    []zoneView
	Boxes    []boxView
	Unplaced []unplacedView
	Writable bool
	Noting   bool // the book can be written in from here
	Doors    []doorView
	Looking  bool // one can look back at what happened
}

func (s *server) frame(n *snapshot.Snapshot, title string) frame {
	f := frame{Title: title, Station: n.Station.Name, Version: n.Station.Version,
		At: s.Reader.When(n.At, s.Clock()), AtISO: n.At.UTC().Format(time.RFC3339), Leave: s.Access != nil}
	for _, t := range s.ill() {
		f.Trouble = append(f.Trouble, words.Capital(t)+".")
	}
	if n.Station.Clock == "unverified" {
		f.Trouble = append(f.Trouble, "The time of day is not verified: no time server has answered since the start. Dates and windows may be off.")
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

func (s *server) first(w http.ResponseWriter, r *http.Request) {
	n := s.state(w, r)
	if n == nil {
		return
	}
	v := firstView{frame: s.frame(n, n.Station.Name), Writable: s.Writer != nil && s.trusted(r)}
	v.Home, v.Noting = true, v.Writable && s.Book != nil
	if v.Noting {
		v.Doors = s.firstDoors(n)
	}
	v.Looking = s.Incidents != nil && s.Book != nil
	for _, a := range sorted(n.Alarms) {
		view := s.alarm(a, n.At)
		if !v.Writable {
			view.Buttons = nil
		}
		if a.Alarm == string(alert.Drying) {
			view.Figures = toPour(n, text(a.Box))
		}
		if view.Resting {
			v.Resting = append(v.Resting, view)
		} else {
			v.Alarms = append(v.Alarms, view)
		}
	}
	for _, z := range n.Zones {
		view := s.zone(n, z)
		t, err := s.trace(r.Context(), z, n.At)
		if err != nil {
			if r.Context().Err() != nil {
				return // the client went away
			}
			s.log.Error("a zone's last day could not be read", "zone", z.Zone, "err", err)
			view.PlotTrouble = "The last 24 hours could not be read; the station's log says why."
		} else if view.Plot = s.plot(z, t); view.Plot == nil {
			view.PlotTrouble = "Nothing was measured in the last 24 hours."
		}
		v.Zones = append(v.Zones, view)
	}
	slices.SortStableFunc(v.Zones, func(a, b zoneView) int { return cmp.Compare(a.rank, b.rank) })
	v.Boxes, v.Due, v.DueMore = s.boxes(n)
	v.Unplaced = s.unplaced(n)
	v.Dams = s.lay(n)
	v.Look = lookToday(v.Dams)
	s.headline(n, &v)
	w.Header().Set("Refresh", "60")
	s.render(w, http.StatusOK, "first", v)
}

// headline says in one line what is wrong.
func (s *server) headline(n *snapshot.Snapshot, v *firstView) {
	switch {
	case s.stalled(n):
		v.State, v.Headline = badge{words.Silent, "stopped", kindSilent}, "What is below is old: the station stopped reporting "+words.Ago(s.lag(n))
	case len(v.Alarms) > 0:
		a := v.Alarms[0]
		v.State = a.badge
		v.Headline = words.Capital(a.Where) + " " + a.Word
		if a.Figures != "" {
			v.Headline += ": " + a.Figures
		}
		if more := len(v.Alarms) - 1; more > 0 {
			v.More = "and " + words.Count(more, "more alarm", "more alarms")
		}
	case len(v.Zones) == 0:
		v.State, v.Headline = badge{words.Silent, "nothing watched", kindSilent}, "No zone is watched yet"
	case v.Zones[0].rank < rankFine:
		z := v.Zones[0]
		v.State, v.Headline = z.badge, words.Capital(z.Name)+": "+z.Word
	case len(v.Trouble) > 0:
		v.State, v.Headline = badge{words.Other, "trouble", kindOther}, "The zones are in order, the station is not"
	case slices.ContainsFunc(n.Alarms, func(a snapshot.Alarm) bool { return a.State == "out-of-service" }):
		v.State, v.Headline = badge{words.Other, "partly off", kindOther}, "The zones are in order; something is switched off for work"
	default:
		v.State, v.Headline = badge{words.Fine, "in order", kindFine}, "All in order"
	}
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
		open := func(x snapshot.Alarm) int { return max(1, place(states, x.State)) } // seen or not, it still holds
		return cmp.Or(
			cmp.Compare(open(a), open(b)),
			cmp.Compare(place(priorities, a.Priority), place(priorities, b.Priority)),
			cmp.Compare(place(states, a.State), place(states, b.State)),
			a.Since.Compare(b.Since),
		)
	})
	return out
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

func (s *server) alarm(a snapshot.Alarm, at time.Time) alarmView {
	r, said := s.Reader, words.Alarm(a.Alarm)
	var until time.Time
	if a.Until != nil {
		until = *a.Until
	}
	v := alarmView{
		badge: badge{said.Shape, said.Wrong, kindOf(said.Shape)},
		Place: words.Place(a), State: words.Capital(r.State(a.State, until, at)), Priority: words.Capital(words.Priority(a.Priority)),
		Since: r.When(a.Since, at) + " (" + words.Span(at.Sub(a.Since)) + ")",
		Peak:  peak(a, r.Value(said.Quantity, a.Peak)), First: said.First,
		Urgent: a.Priority == "critical", Resting: resting(a),
		Key: a.Key,
	}
	if s.Incidents != nil {
		v.Back = incidentHref(a.Since.Add(-aside), at)
	}
	// In short, a zone goes without the probe that was worst in it.
	v.Where = v.Place
	if said.Quantity == words.Temperature || said.Quantity == words.Humidity {
		brief := a
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
	if a.Coming != nil {
		v.Coming = tied(r.Coming(*a.Coming, at))
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
