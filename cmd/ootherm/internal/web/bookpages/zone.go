package bookpages

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/web/zones"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// zonePage is a zone with its past.
type zonePage struct {
	page.Frame
	bookView
	zones.History
	Zone zones.View
}

// bookView is what was noted about a thing that stands without the book.
type bookView struct {
	notes.Log
	Logged bool // the book can be read
	Doors  []notes.Door
}

// ServeZone shows a zone: its state, its day, its week and its season, or the days that are
// asked for, and what was noted about it.
func (s Pages) ServeZone(w http.ResponseWriter, r *http.Request) {
	n := s.State(w, r)
	if n == nil {
		return
	}
	name := r.PathValue("zone")
	i := slices.IndexFunc(n.Zones, func(z snapshot.Zone) bool { return z.Zone == name })
	z := snapshot.Zone{Zone: name}
	switch {
	case i >= 0:
		z = n.Zones[i]
	case !slices.Contains(Zones(s.book()), name):
		s.Message(w, r, http.StatusNotFound, "No such zone", fmt.Sprintf("No zone is called %q. The first page lists them.", name))
		return
	}
	v := zonePage{Frame: s.Frame(n, words.Capital(name)), Zone: s.Zones.View(n, z)}
	v.Here = "today"
	x := zones.Subject{Zone: z}
	if b := s.book(); b != nil {
		v.bookView = s.bookView(r, n, page.ZoneHref(name), name, OfZone(b, name))
		x.Marks = marksOf(b, OfZone(b, name))
	}
	var status int
	var ok bool
	if v.History, status, ok = s.Zones.HistoryOf(r, n, x); ok {
		s.Render(w, status, "zone", v)
	}
}

// Zones are the zones that a book names, those that are not set up now too.
func Zones(b *book.Book) []string {
	return namesIn(b, func(e book.Entry) string { return e.Zone })
}

// Probes are the probes that a book names, those that are not set up now too.
func Probes(b *book.Book) []string {
	return namesIn(b, func(e book.Entry) string { return e.Probe })
}

// namesIn are the names in the entries of a book, each once.
func namesIn(b *book.Book, name func(book.Entry) string) (names []string) {
	if b == nil {
		return nil
	}
	for e := range b.Arrived() {
		if s := name(e); s != "" && !slices.Contains(names, s) {
			names = append(names, s)
		}
	}
	return names
}

// bookView lists what was noted about a thing, with the form of a note about it.
func (s Pages) bookView(r *http.Request, n *snapshot.Snapshot, back, name string, wanted Wanted) bookView {
	v := bookView{Log: notes.Pages{Site: s.Site}.LastOf(r, s.book(), back, wanted, loggedMost), Logged: true}
	if EggsFor(s.Site, r, n, back).Noting() {
		v.Doors = []notes.Door{Door("note", "A note", url.Values{"about": {name}, "back": {back}})}
	}
	return v
}

// loggedMost is how many entries the page of a zone or a probe lists; the rest is on the
// pages of its eggs and boxes (our choice).
const loggedMost = 40
