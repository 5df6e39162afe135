package forms

import (
	"fmt"
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/plausibility"
)

// minHatchShare is the development, as a share, below which a hatch is questioned.
// Our choice: the widest window, of a kind whose family alone is known, begins later.
const minHatchShare = 0.5

// maxLaidSpan is the longest time within which eggs may have been laid that is not questioned:
// two of the weeks after which a lay box is looked into (our choice; see firstLook).
const maxLaidSpan = 2 * firstLook

// Asks reports whether [Desk.Doubts] may question an answer of the form.
func (f Form) Asks() bool {
	return f.entry == book.KindPipped || f.entry == book.KindClutch || slices.ContainsFunc(f.Fields, func(x Field) bool { return x.Sort == Number })
}

// Doubts are questions about entries that are probably mistakes: implausible masses, eggs of no
// dam, eggs that may have been laid at any time of many weeks, and eggs that hatch long before
// their time. Entries that are in the book already raise none.
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
		if span := e.LaidBy.Sub(e.LaidAfter); !there && e.Kind == book.KindClutch && span > maxLaidSpan {
			all = append(all, fmt.Sprintf("%s: %s, by the last look without eggs? That makes its hatch window %s wider. Choose a shorter time if you know it.", e.Clutch, d.Reader.Laid(snapshot.Laid{Earliest: e.LaidAfter, Latest: e.LaidBy}), words.Span(span)))
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
