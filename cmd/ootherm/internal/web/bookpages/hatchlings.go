package bookpages

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

// hatchlingRow is a hatchling in the list of all.
type hatchlingRow struct {
	link
	Dams, Hatched, Last string // Last is the last mass
	at                  time.Time
}

// hatchlingsPage lists the hatchlings of the book, the youngest first.
type hatchlingsPage struct {
	page.Frame
	Said           string
	Living, Folded []hatchlingRow // Folded died, or hatched long ago
	FoldedTitle    string
}

// longSince is how long ago a hatchling hatched that is folded away (our choice): by then most
// have left the house.
const longSince = 183 * 24 * time.Hour

// ServeHatchlings lists the hatchlings.
func (s Pages) ServeHatchlings(w http.ResponseWriter, r *http.Request) {
	n, b := s.Open(w, r)
	if b == nil {
		return
	}
	v := hatchlingsPage{Frame: s.Frame(n, "Hatchlings")}
	v.Here = "season"
	for _, c := range b.Clutches() {
		for _, e := range c.Eggs {
			if e.Fate != book.Hatched {
				continue
			}
			row := s.hatchlingRow(c, e)
			if died(e) || n.At.Sub(e.FateAt) > longSince {
				v.Folded = append(v.Folded, row)
			} else {
				v.Living = append(v.Living, row)
			}
		}
	}
	for _, list := range [][]hatchlingRow{v.Living, v.Folded} {
		slices.SortStableFunc(list, func(a, b hatchlingRow) int { return b.at.Compare(a.at) })
	}
	v.Said = words.Count(len(v.Living), "hatchling", "hatchlings") + " of the last half year."
	v.FoldedTitle = words.Count(len(v.Folded), "earlier one, or one that died", "earlier ones, and those that died")
	s.Render(w, http.StatusOK, "hatchlings", v)
}

func (s Pages) hatchlingRow(c book.Clutch, e book.Egg) hatchlingRow {
	v := hatchlingRow{link: link{page.EggHref(e.ID), e.ID}, Dams: strings.Join(c.Dams, " or "), Hatched: "hatched " + s.Reader.Days(e.FateAt, e.FateAt), at: e.FateAt}
	if e.HatchG != nil {
		v.Last = words.Grams(*e.HatchG)
	}
	for _, h := range e.Hatchling {
		switch {
		case h.What == book.Died:
			v.Hatched += ", died " + s.Reader.Days(h.At, h.At)
		case h.MassG != nil:
			v.Last = "last " + words.Grams(*h.MassG)
		}
	}
	return v
}
