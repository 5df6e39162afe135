package web

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"net/http"
	"strings"
	"time"

	ical "github.com/arran4/golang-ical"

	"example.com/ootherm/cmd/ootherm/internal/app/now"
	"example.com/ootherm/thermal/book"
)

const (
	weighEvery = 7 * 24 * time.Hour  // common practice
	aliveCheck = 14 * 24 * time.Hour // when the review counts a hatchling
	nearly     = 3 * 24 * time.Hour  // a check that was missed stays as long; our choice
)

// sequences count the minutes since then. RFC 5545 (3.8.7.4) wants a number that
// rises with each change and says nothing of numbers in between; counted so, it
// needs no memory and rises across restarts.
func sequence(at time.Time) int {
	return int(at.Sub(time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)) / time.Minute)
}

func (s *server) calendar(w http.ResponseWriter, r *http.Request) {
	secret, ok := strings.CutSuffix(r.PathValue("secret"), ".ics")
	if !ok || subtle.ConstantTimeCompare([]byte(secret), []byte(s.Calendar)) != 1 {
		http.Error(w, "No calendar is at this address; the book's page tells the right one.", http.StatusNotFound)
		return
	}
	n, b := s.Source.Now(), s.Book.Book()
	if n == nil || b == nil {
		w.Header().Set("Retry-After", "60")
		http.Error(w, "The station is still opening its files; ask again in a minute.", http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	// RFC 5545, 3.1: lines end in CR LF and have at most 75 octets.
	_, _ = w.Write([]byte(s.events(n, b).Serialize(ical.WithNewLine("\r\n"), ical.WithLineLength(75)))) // a client that went away needs no answer
}

// calendarPath is the calendar's address.
func (s *server) calendarPath() string { return "/calendar/" + s.Calendar + ".ics" }

// events are the days on which somebody should look. Each keeps its name for as
// long as what it is about.
func (s *server) events(n *now.Now, b *book.Book) *ical.Calendar {
	c := ical.NewCalendarFor("ootherm")
	c.SetMethod(ical.MethodPublish)
	c.SetXWRCalName(n.Station.Name)
	sum := sha256.Sum256([]byte("calendar " + s.Calendar))
	station := hex.EncodeToString(sum[:6])
	day := func(t time.Time) time.Time {
		y, m, d := t.In(s.place()).Date()
		return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	}
	add := func(what, about string, from, to time.Time, summary, description string) {
		name := sha256.Sum256([]byte(what + "\x00" + about))
		e := c.AddEvent(what + "-" + hex.EncodeToString(name[:8]) + "@" + station + ".ootherm")
		e.SetDtStampTime(n.At)
		e.SetSequence(sequence(n.At))
		e.SetAllDayStartAt(day(from))
		e.SetAllDayEndAt(day(to).AddDate(0, 0, 1)) // not included, 3.6.1
		e.SetSummary(summary)
		if description != "" {
			e.SetDescription(description)
		}
		e.SetTimeTransparency(ical.TransparencyTransparent) // it takes nobody's day
	}
	s.windows(n, add)
	for _, d := range b.Dams() {
		if l, ok := b.NextLay(d.Name, n.At); ok {
			add("lay", d.Name, l.Look, l.By, "Lay box: look daily for "+d.Name, "Likely "+s.Reader.Date(l.Likely)+", "+l.Because+".")
		}
	}
	for _, x := range b.Boxes() {
		if !x.InUse || len(x.Eggs) == 0 || x.TotalG == nil {
			continue
		}
		due := x.SetUp
		if k := len(x.Weighings); k > 0 {
			due = x.Weighings[k-1].At
		}
		due = due.Add(weighEvery)
		if due.Before(n.At) {
			due = n.At // it stays due until it is weighed
		}
		add("weigh", x.ID, due, due, "Weigh box "+x.ID, "")
	}
	for _, cl := range b.Clutches() {
		for _, e := range cl.Eggs {
			check := e.FateAt.Add(aliveCheck)
			if e.Fate != book.Hatched || check.Add(nearly).Before(n.At) {
				continue
			}
			died := false
			for _, h := range e.Hatchling {
				died = died || h.What == book.Died
			}
			if !died {
				add("alive", e.ID, check, check, "14 days old: hatchling "+e.ID, "Alive, shed, eating? Note it.")
			}
		}
	}
	return c
}

// windows is one event a clutch, over all the boxes that its eggs are in.
func (s *server) windows(n *now.Now, add func(what, about string, from, to time.Time, summary, description string)) {
	type span struct {
		from, likely, to time.Time
		dam, boxes       string
	}
	spans, order := map[string]*span{}, []string(nil)
	for _, b := range n.Boxes {
		for _, c := range b.Clutches {
			if c.Window == nil || fate(c.Eggs, "waiting")+fate(c.Eggs, "pipped") == 0 {
				continue
			}
			x, ok := spans[c.Clutch]
			if !ok {
				x = &span{c.Window.CheckFrom, c.Window.Likely, c.Window.LateAfter, text(c.Dam), b.Box}
				spans[c.Clutch], order = x, append(order, c.Clutch)
				continue
			}
			x.boxes += ", " + b.Box
			if c.Window.CheckFrom.Before(x.from) {
				x.from, x.likely = c.Window.CheckFrom, c.Window.Likely
			}
			if c.Window.LateAfter.After(x.to) {
				x.to = c.Window.LateAfter
			}
		}
	}
	for _, name := range order {
		x := spans[name]
		who := strings.TrimSpace(x.dam + " " + name)
		add("window", name, x.from, x.to, "Hatch window: "+who, "Box "+x.boxes+". Likely "+s.Reader.Date(x.likely)+". It moves with the warmth; do not turn, wash or cut eggs on the strength of a forecast.")
	}
}
