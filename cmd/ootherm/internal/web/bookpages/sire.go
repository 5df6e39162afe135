package bookpages

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// sirePage is a sire with the dams that he was put to.
type sirePage struct {
	page.Frame
	notes.Log
	Name     string
	Pairings []link
	Doors    []notes.Door
}

// pairingPage is a dam with a sire, and the clutches since.
type pairingPage struct {
	page.Frame
	notes.Log
	Sire, Dam link
	Dates     []string
	Clutches  []clutchRow
	Eggs      string
}

// mating is one pairing of a dam.
type mating struct {
	dam string
	at  time.Time
}

// Sires are the sires of a book, in the order in which they were first noted.
func Sires(b *book.Book) (names []string) {
	seen := map[string]bool{}
	for _, d := range b.Dams() {
		for _, p := range d.Pairings {
			if !seen[p.Sire] {
				seen[p.Sire] = true
				names = append(names, p.Sire)
			}
		}
	}
	return names
}

// matings are the pairings of a sire, the last first.
func matings(b *book.Book, sire string) (all []mating) {
	for _, d := range b.Dams() {
		for _, p := range d.Pairings {
			if p.Sire == sire {
				all = append(all, mating{d.Name, p.At})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b mating) int { return b.at.Compare(a.at) })
	return all
}

// ServeSire shows a sire.
func (s Pages) ServeSire(w http.ResponseWriter, r *http.Request) {
	n, b := s.Open(w, r)
	if b == nil {
		return
	}
	name := r.PathValue("sire")
	all := matings(b, name)
	if len(all) == 0 {
		s.Message(w, r, http.StatusNotFound, "No such sire", fmt.Sprintf("No pairing names a sire %q. The search finds every name.", name))
		return
	}
	back := page.SireHref(name)
	v := sirePage{Frame: s.Frame(n, name), Name: name, Log: notes.Pages{Site: s.Site}.LogOf(r, b, back, OfSire(name))}
	v.Here = "season"
	for _, m := range all {
		v.Pairings = append(v.Pairings, link{page.PairingHref(name, m.dam), m.dam + ", " + s.Reader.Date(m.at)})
	}
	if m := EggsFor(s.Site, r, n, back); m.Noting() {
		v.Doors = []notes.Door{Door("pairing", "Paired", url.Values{"sire": {name}, "back": {back}}), Door("note", "A note", url.Values{"about": {name}, "back": {back}})}
	}
	s.Render(w, http.StatusOK, "sire", v)
}

// ServePairing shows a dam with a sire.
func (s Pages) ServePairing(w http.ResponseWriter, r *http.Request) {
	n, b := s.Open(w, r)
	if b == nil {
		return
	}
	sire := r.PathValue("sire")
	d, ok := b.Dam(r.PathValue("dam"))
	paired := ok && slices.ContainsFunc(d.Pairings, func(p book.Pairing) bool { return p.Sire == sire })
	if !paired {
		s.Message(w, r, http.StatusNotFound, "No such pairing", "The book has no pairing of these two. The search finds every name.")
		return
	}
	v := pairingPage{Frame: s.Frame(n, d.Name+" and "+sire), Log: notes.Pages{Site: s.Site}.LogOf(r, b, page.DamHref(d.Name), OfPairing(b, sire, d)),
		Sire: link{page.SireHref(sire), sire}, Dam: link{page.DamHref(d.Name), d.Name}}
	v.Here = "season"
	var since []string
	eggs := map[book.Fate]int{}
	total := 0
	for _, id := range d.Clutches {
		c, _ := b.Clutch(id)
		if lastSire(d, c) != sire {
			continue
		}
		since = append(since, id)
		for _, e := range c.Eggs {
			eggs[e.Fate]++
			total++
		}
	}
	for _, p := range d.Pairings {
		if p.Sire == sire {
			v.Dates = append(v.Dates, s.Reader.Date(p.At))
		}
	}
	v.Clutches = s.clutchRows(b, since)
	if total > 0 {
		v.Eggs = fmt.Sprintf("%s: %d hatched, %d lost, %d waiting.", words.Count(total, "egg", "eggs"), eggs[book.Hatched], eggs[book.Lost], eggs[book.Waiting]+eggs[book.Pipped])
	}
	s.Render(w, http.StatusOK, "pairing", v)
}

// lastSire is the sire that a dam was put to last before a clutch; empty where none is noted.
func lastSire(d book.Dam, c book.Clutch) (sire string) {
	var last time.Time
	for _, p := range d.Pairings {
		if !p.At.After(c.Laid.By) && !p.At.Before(last) {
			last, sire = p.At, p.Sire
		}
	}
	return sire
}
