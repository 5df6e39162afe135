package bookpages

import (
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/notes"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// eggForms are what is noted of an egg that waits, in the order of its days; hatchlingForms
// what is noted of a hatchling that lives.
var (
	eggForms       = []string{"candled", "pipped", "hatched", "lost"}
	hatchlingForms = []string{book.Weighed, book.Fed, book.Shed, book.Died}
)

// EggRow is an egg with what can be noted of it.
type EggRow struct {
	Icon             template.HTML
	Name, Href, Slot string
	State, About     string
	Forms            []notes.Inline
}

// Eggs makes the rows of eggs on one page.
type Eggs struct {
	*page.Site
	Now     *snapshot.Snapshot
	Book    *book.Book     // nil: it cannot be read
	inlines *notes.Inlines // nil: nothing can be noted
}

// EggsFor makes the rows of eggs on the page of an address, with forms where the reader may
// note something.
func EggsFor(s *page.Site, r *http.Request, n *snapshot.Snapshot, back string) Eggs {
	m := Eggs{Site: s, Now: n}
	if s.Book == nil {
		return m
	}
	m.Book = s.Book.Book()
	if m.Book != nil && s.Writer != nil && s.Trusted(r) {
		forms := notes.Pages{Site: s}.InlinesFor(n, m.Book, back)
		m.inlines = &forms
	}
	return m
}

// Noting reports whether the reader may note something.
func (m Eggs) Noting() bool { return m.inlines != nil }

// Row is one egg's row, by what the station knows of it.
func (m Eggs) Row(id, slot, fate string) EggRow {
	v := EggRow{Icon: chart.Icon(Symbol(fate)), Name: id, Slot: slot, State: words.Fate(fate)}
	if m.Book == nil {
		return v
	}
	e, ok := m.Book.Egg(id)
	if !ok {
		return v
	}
	v.Href = page.EggHref(id)
	if !e.FateAt.IsZero() {
		v.State += " " + m.Reader.When(e.FateAt, m.Now.At)
	}
	v.About = strings.Join(m.about(e), "; ")
	v.Forms = m.forms(e)
	return v
}

// about is what is known of an egg, in short.
func (m Eggs) about(e book.Egg) (about []string) {
	if e.Why != "" {
		about = append(about, e.Why)
	}
	if e.Verdict != "" {
		about = append(about, "candled "+m.Reader.ShortDate(e.VerdictAt)+": "+e.Verdict)
	}
	if e.HatchG != nil {
		about = append(about, words.Grams(*e.HatchG)+" at the hatch")
	}
	for _, h := range e.Hatchling {
		text := h.What + " " + m.Reader.ShortDate(h.At)
		if h.MassG != nil {
			text += ", " + words.Grams(*h.MassG)
		}
		about = append(about, text)
	}
	return about
}

// forms are what can be noted of an egg.
func (m Eggs) forms(e book.Egg) (all []notes.Inline) {
	if m.inlines == nil {
		return nil
	}
	switch e.Fate {
	case book.Waiting, book.Pipped:
		for _, kind := range eggForms {
			if kind != "pipped" || e.Fate == book.Waiting {
				all = append(all, m.inlines.Of(kind, "", e.ID, url.Values{"egg": {e.ID}}))
			}
		}
	case book.Hatched:
		if died(e) {
			return nil
		}
		for _, what := range hatchlingForms {
			given := url.Values{"hatchling": {e.ID}, "what": {what}}
			if what != book.Weighed {
				given.Set("mass_g", "")
			}
			all = append(all, m.inlines.Of("hatchling", words.Capital(what), e.ID, given))
		}
	}
	return all
}

func died(e book.Egg) bool {
	return slices.ContainsFunc(e.Hatchling, func(h book.Event) bool { return h.What == book.Died })
}

// Symbol is the shape of an egg by its fate.
func Symbol(fate string) chart.Symbol {
	switch fate {
	case "hatched":
		return chart.Hatched
	case "pipped":
		return chart.Pipped
	case "lost":
		return chart.Lost
	}
	return chart.Waiting
}
