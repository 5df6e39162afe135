package forms

import (
	"fmt"
	"slices"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/plausibility"
)

// early is how far an egg is, as a share, that nobody expects to hatch: our choice.
// The widest window, of a kind whose family alone is known, begins later.
const early = 0.5

// Asks reports whether a form may be asked whether it is meant, by [Desk.Doubts].
func (f Form) Asks() bool {
	return f.entry == book.KindPipped || slices.ContainsFunc(f.Fields, func(x Field) bool { return x.Sort == Number })
}

// Doubts are questions about what is hardly meant: masses, and eggs that hatch long
// before their time. What is in the book already is not asked for.
func (d Desk) Doubts(entries []book.Entry) []string {
	if d.Book == nil || d.Now == nil {
		return nil
	}
	eggG := d.EggG
	if eggG == nil {
		eggG = func(string) (least, most float64) { return 0, 0 }
	}
	all := plausibility.Questions(*d.Book, eggG, entries...)
	for _, e := range entries {
		if _, _, there := d.Book.Entry(e.Key); there || e.Kind != book.KindPipped && e.Kind != book.KindHatched {
			continue
		}
		if share, known := d.developed(e.Egg); known && share < early {
			all = append(all, fmt.Sprintf("%s %s? By the heat it had it is %s of the way: see that it is the right egg.", e.Egg, e.Kind, words.Percent(share)))
		}
	}
	return all
}

// developed is how far an egg is now; one that is noted to have hatched before was
// less far then.
func (d Desk) developed(egg string) (share float64, known bool) {
	for _, b := range d.Now.Boxes {
		for _, c := range b.Clutches {
			for _, e := range c.Eggs {
				if e.Egg == egg && c.Developed != nil {
					return *c.Developed, true
				}
			}
		}
	}
	return 0, false
}

// Doubt is an error of entries that are asked for once more.
type Doubt []string

// Error names the package.
func (q Doubt) Error() string { return "" + q.ErrorMessage() }

// ErrorMessage is for the person.
func (q Doubt) ErrorMessage() string { return strings.Join(q, "\n") }
