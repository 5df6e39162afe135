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
	Undelivered             []string // of senders whose alarm messages do not get out
	Home                    bool     // this is the first page
	Notice                  string   // of what is shown; empty: none
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

type probeView struct {
	badge
	Name, Figures, Age string
}

type zoneView struct {
	badge
	moistureView
	Name, Sort, Temperature, Trend, Age, SetPoint, Wanted, Safe, Apart string
	Probes                                                             []probeView
	Plot                                                               *plot
	PlotTrouble                                                        string
	rank                                                               int
}

// moistureView is how moist the air is, and how moist it should be.
type moistureView struct{ Humidity, Damp, Dew, Vapour, Drying string }

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

// firstPage shows all that the station watches.
type firstPage struct {
	*server
	alarms alarmPages
	zones  *zoneViews
	boxes  boxPages
}

// headline says in one line what is wrong.
type headline struct {
	State          badge
	Headline, More string
}

type firstView struct {
	frame
	headline
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
		At: s.Reader.When(n.At, s.Clock()), AtISO: n.At.UTC().Format(time.RFC3339), Notice: s.Notice, Leave: s.Access != nil}
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
	v.Home, v.Noting = true, v.Writable && s.Book != nil
	if v.Noting {
		v.Doors = s.firstDoors(n)
	}
	v.Looking = s.Incidents != nil && s.Book != nil
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
			v.Alarms = append(v.Alarms, view)
		}
	}
	for _, z := range n.Zones {
		view := s.zones.view(n, z)
		t, err := s.zones.trace(r.Context(), z, n.At)
		if err != nil {
			if r.Context().Err() != nil {
				return // the client went away
			}
			s.log.Error("a zone's last day could not be read", "zone", z.Zone, "err", err)
			view.PlotTrouble = "The last 24 hours could not be read; the station's log says why."
		} else if view.Plot = s.zones.plot(z, t); view.Plot == nil {
			view.PlotTrouble = "Nothing was measured in the last 24 hours."
		}
		v.Zones = append(v.Zones, view)
	}
	slices.SortStableFunc(v.Zones, func(a, b zoneView) int { return cmp.Compare(a.rank, b.rank) })
	v.Boxes, v.Due, v.DueMore = s.boxes.list(n)
	v.Unplaced = s.unplaced(n)
	v.Dams = s.lay(n)
	v.Look = lookToday(v.Dams)
	s.headline(n, &v)
	w.Header().Set("Refresh", "60")
	s.render(w, http.StatusOK, "first", v)
}

// headline says in one line what is wrong.
func (s firstPage) headline(n *snapshot.Snapshot, v *firstView) {
	switch {
	case s.stalled(n):
		v.State, v.Headline = badge{words.Silent, "stopped", kindSilent}, "What is below is old: the station stopped reporting "+words.Ago(s.lag(n))
	case len(v.Alarms) > 0:
		a := v.Alarms[0]
		v.State = a.badge
		v.Headline = words.Capital(a.Where) + " " + a.Word
		switch {
		case a.Recovered:
			v.Headline += "; " + a.Figures
		case a.Figures != "":
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
