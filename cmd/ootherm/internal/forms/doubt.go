package forms

import (
	"fmt"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/plausibility"
)

// minHatchShare is the development, as a share, below which a hatch is questioned.
// Our choice: the widest window, of a kind whose family alone is known, begins later.
const minHatchShare = 0.5

// Asks reports whether [Desk.Doubts] may question an answer of the form.
func (f Form) Asks() bool {
	return f.entry == book.KindPipped || f.entry == book.KindClutch || slices.ContainsFunc(f.Fields, func(x Field) bool { return x.Sort == Number })
}

// Doubts are questions about entries that are probably mistakes: implausible masses,
// eggs of no dam, and eggs that hatch long before their time. Entries that are in the book already
// raise none.
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
		_, _, there := d.Book.Entry(e.Key)
		if !there && e.Kind == book.KindClutch && len(e.Dam) == 0 {
			all = append(all, e.Clutch+": no dam is named. Is it not known who laid these eggs?")
		}
		if there || e.Kind != book.KindPipped && e.Kind != book.KindHatched {
			continue
		}
		if share, known := d.developed(e.Egg); known && share < minHatchShare {
			all = append(all, fmt.Sprintf("%s %s? By the heat it had it is %s of the way: see that it is the right egg.", e.Egg, e.Kind, words.Percent(share)))
		}
	}
	return all
}

// developed is how far an egg is now, as a share. An egg whose hatch is noted late
// was less far at its hatch.
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
