package bookpages

import (
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/zones"
	"example.com/ootherm/thermal/book"
)

// marksOf gives the entries that are wanted as marks of a span, in the order of their times.
func marksOf(b *book.Book, wanted Wanted) func(from, to time.Time) []zones.Mark {
	return func(from, to time.Time) (all []zones.Mark) {
		seen := map[string]bool{}
		for e := range b.Arrived() {
			if e.Kind == book.KindVoid || e.At.Before(from) || !e.At.Before(to) || !wanted(e) {
				continue
			}
			whole := forms.Whole(b, e)
			if _, by, _ := b.Entry(whole.Key); by != "" || seen[whole.Key] {
				continue
			}
			seen[whole.Key] = true
			all = append(all, zones.Mark{At: whole.At, Symbol: symbolOf(whole.Kind), Title: forms.SaidWhole(b, whole)})
		}
		slices.SortStableFunc(all, func(a, b zones.Mark) int { return a.At.Compare(b.At) })
		return all
	}
}

// symbolOf is the mark of a kind of entry; of many it is a dot.
func symbolOf(kind book.Kind) chart.Symbol {
	switch kind {
	case book.KindHatched:
		return chart.Hatched
	case book.KindPipped:
		return chart.Pipped
	case book.KindLost:
		return chart.Lost
	case book.KindCandled:
		return chart.Waiting
	case book.KindWeighed, book.KindWatered:
		return chart.Water
	}
	return chart.Laid
}
