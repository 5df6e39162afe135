// Package calendar gives the days on which somebody should look as a calendar feed. It must not
// decide which days these are.
package calendar

import (
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"net/http"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	ical "github.com/arran4/golang-ical"
)

const (
	aliveCheck = 14 * 24 * time.Hour // when the review counts a hatchling
	nearly     = 3 * 24 * time.Hour  // a check that was missed stays as long; our choice
)

// Feed gives the days on which somebody should look, for a calendar.
type Feed struct{ *page.Site }

func (s Feed) Serve(w http.ResponseWriter, r *http.Request) {
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
	c := s.events(n, b)
	sum := sha256.Sum256([]byte(c.Serialize()))
	number, err := s.Revisions.Number(hex.EncodeToString(sum[:]), n.At)
	if err != nil {
		s.Log.Error("the calendar could not be numbered", "err", err)
		http.Error(w, "The calendar could not be numbered; the station's log says why.", http.StatusInternalServerError)
		return
	}
	for _, e := range c.Events() {
		e.SetDtStampTime(n.At)
		e.SetSequence(number)
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	// RFC 5545, 3.1: lines end in CR LF and have at most 75 octets.
	_, _ = w.Write([]byte(c.Serialize(ical.WithNewLine("\r\n"), ical.WithLineLength(75)))) // a client that went away needs no answer
}

// calendarPath is the address of the calendar with a secret.
func Path(secret string) string { return "/calendar/" + secret + ".ics" }

// events are the days on which somebody should look. Each keeps its name for as
// long as what it is about.
func (s Feed) events(n *snapshot.Snapshot, b *book.Book) *ical.Calendar {
	c := ical.NewCalendarFor("ootherm")
	c.SetMethod(ical.MethodPublish)
	c.SetXWRCalName(n.Station.Name)
	sum := sha256.Sum256([]byte("calendar " + s.Calendar))
	station := hex.EncodeToString(sum[:6])
	day := func(t time.Time) time.Time {
		y, m, d := t.In(s.Place()).Date()
		return time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
	}
	add := func(what, about string, from, to time.Time, summary, description string) {
		name := sha256.Sum256([]byte(what + "\x00" + about))
		e := c.AddEvent(what + "-" + hex.EncodeToString(name[:8]) + "@" + station + ".ootherm")
		e.SetAllDayStartAt(day(from))
		e.SetAllDayEndAt(day(to).AddDate(0, 0, 1)) // not included, 3.6.1
		e.SetSummary(summary)
		if description != "" {
			e.SetDescription(description)
		}
		e.SetTimeTransparency(ical.TransparencyTransparent) // the day stays free in the calendar
	}
	s.windows(n, add)
	s.layBoxes(n, add)
	s.weighings(n, add)
	aliveChecks(n.At, b, add)
	return c
}

// addEvent adds an event that lasts from one day through another.
type addEvent = func(what, about string, from, to time.Time, summary, description string)

// layBoxes is one event for each dam that may lay soon.
func (s Feed) layBoxes(n *snapshot.Snapshot, add addEvent) {
	for _, d := range n.Dams {
		if d.LookFrom == nil || d.Likely == nil || d.Latest == nil {
			continue
		}
		summary, to := "Lay box: look daily for "+d.Dam, *d.Latest
		description := "Likely " + s.Reader.Date(*d.Likely) + ", " + words.OrEmpty(d.Because) + "."
		if d.Due == "overdue" { // it stays until something is noted
			summary, to = "Lay box: "+d.Dam+" is overdue", n.At
			description = "Was expected by " + s.Reader.Date(*d.Latest) + ". A female straining or overdue: a reptile vet the same day."
		}
		add("lay", d.Dam, *d.LookFrom, to, summary, description)
	}
}

// weighings is one event for each box whose water is known.
func (s Feed) weighings(n *snapshot.Snapshot, add addEvent) {
	for _, x := range n.Boxes {
		if x.Medium == nil || x.Medium.WeighNext == nil {
			continue
		}
		due, description := *x.Medium.WeighNext, ""
		if due.Before(n.At) {
			description = "Due since " + s.Reader.Date(due) + "."
			due = n.At // it stays due until it is weighed
		}
		add("weigh", x.Box, due, due, "Weigh box "+x.Box, description)
	}
}

// aliveChecks is one event for each hatchling that is two weeks old soon.
func aliveChecks(now time.Time, b *book.Book, add addEvent) {
	for _, cl := range b.Clutches() {
		for _, e := range cl.Eggs {
			check := e.FateAt.Add(aliveCheck)
			if e.Fate != book.Hatched || check.Add(nearly).Before(now) {
				continue
			}
			if !slices.ContainsFunc(e.Hatchling, func(h book.Event) bool { return h.What == book.Died }) {
				add("alive", e.ID, check, check, "14 days old: hatchling "+e.ID, "Alive, shed, eating? Note it.")
			}
		}
	}
}

// windows is one event a clutch, over all the boxes that its eggs are in.
func (s Feed) windows(n *snapshot.Snapshot, add addEvent) {
	spans, order := windowSpans(n)
	for _, name := range order {
		x := spans[name]
		if x.to.Before(n.At) { // it stays until something is noted
			x.to = n.At
		}
		if slices.Contains(x.states, snapshot.StateHatching) && x.from.After(n.At) {
			x.from = n.At
		}
		who := strings.TrimSpace(x.dam + " " + name)
		add("window", name, x.from, x.to, x.lead()+who, "Box "+x.boxes+". "+words.Capital(s.Reader.Likely(x.window))+". It moves with the warmth; do not turn, wash or cut eggs on the strength of a forecast.")
	}
}

// windowSpan is the window of a clutch, over all its boxes.
type windowSpan struct {
	window     snapshot.Window
	from, to   time.Time
	dam, boxes string
	states     []string
}

// lead is how the event's title begins, by the most pressing of the clutch's states.
func (x *windowSpan) lead() string {
	lead := "Hatch window: "
	for _, say := range [...]struct{ state, lead string }{
		{snapshot.StateLate, "Late: "}, {snapshot.StateCheckDaily, "Check daily: "}, {snapshot.StateHatching, "Hatching, look now: "},
	} { // the last of them is the most pressing
		if slices.Contains(x.states, say.state) {
			lead = say.lead
		}
	}
	return lead
}

// windowSpans gives the windows of the clutches that wait, and the order of their names.
func windowSpans(n *snapshot.Snapshot) (spans map[string]*windowSpan, order []string) {
	spans, order = map[string]*windowSpan{}, nil
	for _, b := range n.Boxes {
		for _, c := range b.Clutches {
			if c.Window == nil || len(page.Waiting(c)) == 0 {
				continue
			}
			x, ok := spans[c.Clutch]
			if !ok {
				x = &windowSpan{*c.Window, c.Window.CheckFrom, c.Window.LateAfter, words.OrEmpty(c.Dam), b.Box, []string{words.OrEmpty(c.State)}}
				spans[c.Clutch], order = x, append(order, c.Clutch)
				continue
			}
			x.states = append(x.states, words.OrEmpty(c.State))
			x.boxes += ", " + b.Box
			if c.Window.CheckFrom.Before(x.from) {
				x.from, x.window = c.Window.CheckFrom, *c.Window
			}
			if c.Window.LateAfter.After(x.to) {
				x.to = c.Window.LateAfter
			}
		}
	}
	return spans, order
}
