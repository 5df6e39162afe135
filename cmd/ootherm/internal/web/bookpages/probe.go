package bookpages

import (
	"fmt"
	"net/http"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/web/zones"
	"example.com/ootherm/thermal/book"
)

// probePage is a probe with its past.
type probePage struct {
	page.Frame
	bookView
	zones.History
	Probe  zones.ProbeView
	Zone   link
	Boxes  []link // that have it now
	Points []string
}

// ServeProbe shows a probe: its state, its day, its week and its season, and what was noted
// about it.
func (s Pages) ServeProbe(w http.ResponseWriter, r *http.Request) {
	n := s.State(w, r)
	if n == nil {
		return
	}
	name := r.PathValue("probe")
	z, p, ok := n.ProbeOf(name)
	if !ok && slices.Contains(Probes(s.book()), name) {
		p = snapshot.Probe{Probe: name, Status: "missing"}
		z = snapshot.Zone{Probes: []snapshot.Probe{p}}
		ok = true
	}
	if !ok {
		s.Message(w, r, http.StatusNotFound, "No such probe", fmt.Sprintf("No probe is called %q. The first page lists them by zone.", name))
		return
	}
	v := probePage{Frame: s.Frame(n, "Probe "+name), Probe: s.Zones.Probe(n, z, p), Zone: link{page.ZoneHref(z.Zone), z.Zone}}
	v.Here = "today"
	for _, b := range n.Boxes {
		if b.Probe != nil && *b.Probe == name {
			v.Boxes = append(v.Boxes, link{page.BoxHref(b.Box), b.Box})
		}
	}
	x := zones.Subject{Zone: z, Probe: name}
	if b := s.book(); b != nil {
		wanted := OfProbe(b, name)
		v.bookView, x.Marks = s.bookView(r, n, page.ProbeHref(name), name, wanted), marksOf(b, wanted)
		for _, c := range slices.Backward(b.Calibrations(name)) {
			v.Points = append(v.Points, s.compared(c)...)
		}
	}
	var status int
	if v.History, status, ok = s.Zones.HistoryOf(r, n, x); ok {
		s.Render(w, status, "probe", v)
	}
}

func (s Pages) book() *book.Book {
	if s.Book == nil {
		return nil
	}
	return s.Book.Book()
}

// compared says with which known points a probe was compared.
func (s Pages) compared(c book.Calibration) (all []string) {
	since := "from " + s.Reader.Date(c.From) + ": "
	for _, p := range c.Points {
		switch {
		case p.ReferenceC != nil && p.ReadC != nil:
			all = append(all, since+"at "+s.Reader.Temperature(*p.ReferenceC)+" it read "+s.Reader.Temperature(*p.ReadC))
		case p.ReferenceRH != nil && p.ReadRH != nil:
			all = append(all, since+"at "+s.Reader.Humidity(*p.ReferenceRH)+" it read "+s.Reader.Humidity(*p.ReadRH))
		}
	}
	return all
}
