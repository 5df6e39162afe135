// Package search finds every name that the station or the book knows, past seasons included, and
// notes by their words. It must not know what stands on the pages that it leads to.
package search

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/bookpages"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// Pages shows what is found.
type Pages struct{ *page.Site }

// hit is one thing that was found.
type hit struct{ Kind, Name, Href, About string }

// group is what was found of one kind.
type group struct {
	Title string
	Hits  []hit
	More  string // how many are left out; empty: none
}

type searchPage struct {
	page.Frame
	Asked, Said string
	Groups      []group
}

// mostHits is how many of one kind are listed; a longer word finds the rest (our choice).
const mostHits = 30

// longestAsked is how many bytes of a question are read (our choice).
const longestAsked = 200

// ServePage shows what a question finds.
func (s Pages) ServePage(w http.ResponseWriter, r *http.Request) {
	n := s.State(w, r)
	if n == nil {
		return
	}
	asked := strings.Join(strings.Fields(r.URL.Query().Get("q")), " ")
	asked = strings.ToValidUTF8(asked[:min(len(asked), longestAsked)], "")
	v := searchPage{Frame: s.Frame(n, "Search"), Asked: asked}
	if asked == "" {
		v.Said = "Type a part of a name: of a clutch, an egg, a dam, a sire, a box, a zone or a probe. Words of notes are found too."
		s.Render(w, http.StatusOK, "search", v)
		return
	}
	v.Groups = s.find(n, asked)
	count := 0
	for _, g := range v.Groups {
		count += len(g.Hits)
	}
	v.Said = words.Capital(words.Count(count, "place", "places")) + " found."
	if count == 0 {
		v.Said = "Nothing has this in its name, and no note has it."
	}
	s.Render(w, http.StatusOK, "search", v)
}

// find is everything that has a text in its name, by kind, the nearest first.
func (s Pages) find(n *snapshot.Snapshot, asked string) (all []group) {
	f := finder{asked: strings.ToLower(asked)}
	for _, z := range n.Zones {
		f.add("Zones", z.Zone, page.ZoneHref(z.Zone), "")
		for _, p := range z.Probes {
			f.add("Probes", p.Probe, page.ProbeHref(p.Probe), "in "+z.Zone)
		}
	}
	var b *book.Book
	if s.Book != nil {
		b = s.Book.Book()
	}
	if b != nil {
		s.findInBook(&f, b)
	} else {
		for _, x := range n.Boxes {
			f.add("Boxes", x.Box, page.BoxHref(x.Box), "in "+x.Zone)
			for _, c := range x.Clutches {
				f.add("Clutches", c.Clutch, page.ClutchHref(c.Clutch), words.OrEmpty(c.Dam))
			}
		}
	}
	for _, title := range []string{"Clutches", "Dams", "Sires", "Boxes", "Eggs", "Hatchlings", "Zones", "Probes", "Notes"} {
		hits := f.found[title]
		if len(hits) == 0 {
			continue
		}
		slices.SortStableFunc(hits, func(a, b hit) int { return f.distance(a.Name) - f.distance(b.Name) })
		g := group{Title: title, Hits: hits}
		if over := len(hits) - mostHits; over > 0 {
			g.Hits, g.More = hits[:mostHits], words.Count(over, "more", "more")+": type more of the name."
		}
		all = append(all, g)
	}
	return all
}

// findInBook adds what the book knows, the last first.
func (s Pages) findInBook(f *finder, b *book.Book) {
	r := s.Reader
	for _, c := range slices.Backward(b.Clutches()) {
		dams := strings.Join(c.Dams, " or ")
		laid := "laid " + r.Days(c.Laid.After, c.Laid.By)
		f.add("Clutches", c.ID, page.ClutchHref(c.ID), strings.TrimSpace(dams+", "+laid))
		for _, e := range c.Eggs {
			kind := "Eggs"
			if e.Fate == book.Hatched {
				kind = "Hatchlings"
			}
			f.add(kind, e.ID, page.EggHref(e.ID), state(r, e)+", "+laid)
		}
	}
	for _, d := range b.Dams() {
		f.add("Dams", d.Name, page.DamHref(d.Name), words.Count(len(d.Clutches), "clutch", "clutches"))
	}
	for _, name := range bookpages.Sires(b) {
		f.add("Sires", name, page.SireHref(name), "")
	}
	for _, x := range b.Boxes() {
		about := "not in use"
		if x.InUse {
			about = "in " + x.Zone
		}
		f.add("Boxes", x.ID, page.BoxHref(x.ID), about)
	}
	for _, name := range bookpages.Zones(b) {
		f.add("Zones", name, page.ZoneHref(name), "")
	}
	for _, name := range bookpages.Probes(b) {
		f.add("Probes", name, page.ProbeHref(name), "")
	}
	s.findNotes(f, b)
}

// findNotes adds what was noted in free words: notes, reasons and verdicts.
func (s Pages) findNotes(f *finder, b *book.Book) {
	at := s.Clock()
	for e := range b.Arrived() {
		text := strings.Join([]string{e.Text, e.Why, e.Verdict, e.About, e.Medium}, " ")
		if e.Kind == book.KindVoid || !strings.Contains(strings.ToLower(text), f.asked) {
			continue
		}
		if _, by, _ := b.Entry(e.Key); by == "" {
			f.found = f.with("Notes", hit{"note", forms.Said(e), s.place(b, e), s.Reader.When(e.At, at)})
		}
	}
	slices.Reverse(f.found["Notes"])
}

// place is the address of the page that has an entry.
func (s Pages) place(b *book.Book, e book.Entry) string {
	name := e.About
	for _, kind := range []string{"egg ", "hatchling ", "clutch ", "box ", "dam "} {
		if len(name) > len(kind) && strings.EqualFold(name[:len(kind)], kind) {
			name = name[len(kind):]
		}
	}
	if _, ok := b.Egg(e.Egg); ok && e.Egg != "" {
		return page.EggHref(e.Egg)
	}
	if e.Box != "" {
		return page.BoxHref(e.Box)
	}
	if e.Clutch != "" {
		return page.ClutchHref(e.Clutch)
	}
	if len(e.Dam) > 0 {
		name = e.Dam[0]
	}
	if d, ok := b.Dam(name); ok {
		return page.DamHref(d.Name)
	}
	if c, ok := b.Clutch(name); ok {
		return page.ClutchHref(c.ID)
	}
	if x, ok := b.Egg(name); ok {
		return page.EggHref(x.ID)
	}
	if x, ok := b.Box(name); ok {
		return page.BoxHref(x.ID)
	}
	return "/noted"
}

func state(r words.Reader, e book.Egg) string {
	if e.FateAt.IsZero() {
		return string(e.Fate)
	}
	return string(e.Fate) + " " + r.Date(time.Time(e.FateAt))
}

// finder collects what has a text in its name.
type finder struct {
	asked string // in lower case
	found map[string][]hit
}

// add takes a thing whose name has the text, once.
func (f *finder) add(title, name, href, about string) {
	there := slices.ContainsFunc(f.found[title], func(h hit) bool { return h.Name == name })
	if !there && strings.Contains(strings.ToLower(name), f.asked) {
		f.found = f.with(title, hit{title, name, href, strings.Trim(about, ", ")})
	}
}

func (f *finder) with(title string, h hit) map[string][]hit {
	if f.found == nil {
		f.found = map[string][]hit{}
	}
	f.found[title] = append(f.found[title], h)
	return f.found
}

// distance orders names: the very one, then those that begin so, then the others.
func (f *finder) distance(name string) int {
	switch name = strings.ToLower(name); {
	case name == f.asked:
		return 0
	case strings.HasPrefix(name, f.asked):
		return 1
	}
	return 2
}
