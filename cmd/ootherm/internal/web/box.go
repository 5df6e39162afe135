package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/bookpages"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// boxPage is a box, what it feels, and the eggs in it. One that is out of use keeps what was
// noted about it.
type boxPage struct {
	page.Frame
	notes.Log
	Name, Zone, Felt string
	Used             bool // it is in use
	History          string
	Candling         *bookpages.Candling
	Parts            []clutchPart
	Medium           mediumView
	Label            string // of the page to print it
	Doors            []notes.Door
	Logged           bool
	Past             bookpages.Felt
}

func (s boxPages) box(w http.ResponseWriter, r *http.Request) {
	n := s.State(w, r)
	if n == nil {
		return
	}
	name := r.PathValue("box")
	back := page.BoxHref(name)
	m := clutchMaker{boxPages: s, n: n, eggs: bookpages.EggsFor(s.Site, r, n, back)}
	v := boxPage{Frame: s.Frame(n, "Box "+name), Name: name}
	v.Here = "boxes"
	i := slices.IndexFunc(n.Boxes, func(b snapshot.Box) bool { return b.Box == name })
	if i >= 0 {
		m.fillBox(&v, n.Boxes[i])
	}
	if m.eggs.Book != nil && i >= 0 {
		if b, ok := m.eggs.Book.Box(name); ok && !b.SetUp.IsZero() {
			v.Past = s.things.FeltSince(r.Context(), n, "", b.Stays, b.SetUp, n.At, bookpages.OfBox(m.eggs.Book, name))
		}
	}
	known := i >= 0
	if m.eggs.Book != nil {
		_, there := m.eggs.Book.Box(name)
		known = known || there
		v.Logged, v.Log = true, notes.Pages{Site: s.Site}.LogOf(r, m.eggs.Book, back, bookpages.OfBox(m.eggs.Book, name))
		v.Label = "/labels?" + url.Values{"box": {name}}.Encode()
	}
	if !known {
		s.Message(w, r, http.StatusNotFound, "No such box", fmt.Sprintf("No box is called %q. The first page lists those in use.", name))
		return
	}
	if m.eggs.Noting() {
		v.Candling = m.eggs.Candling(name)
		v.Doors = append(notes.Doors(name), bookpages.Door("note", "A note", url.Values{"about": {name}, "back": {back}}))
	}
	s.Render(w, http.StatusOK, "box", v)
}

// fillBox adds what the station knows of a box in use.
func (m clutchMaker) fillBox(v *boxPage, b snapshot.Box) {
	v.Used, v.Zone, v.Felt = true, b.Zone, m.felt(m.n, b)
	switch {
	case b.Probe != nil:
		v.History = page.ProbeHref(*b.Probe)
	case b.Zone != "":
		v.History = page.ZoneHref(b.Zone)
	}
	for _, c := range b.Clutches {
		if len(page.Waiting(c)) > 0 {
			v.Parts = append(v.Parts, m.summary(b, c))
		}
	}
	slices.SortStableFunc(v.Parts, func(a, b clutchPart) int { return a.rank.compare(b.rank) })
	v.Medium = m.media.view(b, m.n.At)
}
