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
// It reads the book once for all spans.
func marksOf(b *book.Book, wanted Wanted) func(from, to time.Time) []zones.Mark {
	var all []zones.Mark
	read := false
	return func(from, to time.Time) []zones.Mark {
		if !read {
			all, read = everyMark(b, wanted), true
		}
		at := func(t time.Time) int {
			i, _ := slices.BinarySearchFunc(all, t, func(m zones.Mark, t time.Time) int { return m.At.Compare(t) })
			return i
		}
		end := at(to)
		return all[at(from):end:end]
	}
}

// everyMark are the entries that are wanted and not undone as marks, in the order of their
// times.
func everyMark(b *book.Book, wanted Wanted) (all []zones.Mark) {
	seen := map[string]bool{}
	for e := range b.Arrived() {
		if e.Kind == book.KindVoid || !wanted(e) {
			continue
		}
		whole := forms.Whole(b, e)
		if _, by, _ := b.Entry(whole.Key); by != "" || seen[whole.Key] {
			continue
		}
		seen[whole.Key] = true
		m := markOf(whole.Kind)
		all = append(all, zones.Mark{At: whole.At, Symbol: m.symbol, Title: forms.SaidWhole(b, whole), Lane: m.lane, Key: m.key})
	}
	slices.SortStableFunc(all, func(a, b zones.Mark) int { return a.At.Compare(b.At) })
	return all
}

// markKind is how entries of some kinds are drawn.
type markKind struct {
	symbol    chart.Symbol
	lane, key string
}

// markOf is how a kind of entry is drawn; of many it is a dot. Each lane has marks of one sort,
// so that they are not drawn over one another.
func markOf(kind book.Kind) markKind {
	switch kind {
	case book.KindHatched:
		return markKind{chart.Hatched, "eggs", "broken shell, hatched"}
	case book.KindPipped:
		return markKind{chart.Pipped, "eggs", "cracked egg, pipped"}
	case book.KindLost:
		return markKind{chart.Lost, "lost", "cross, lost"}
	case book.KindCandled:
		return markKind{chart.Waiting, "look", "egg, candled"}
	case book.KindWeighed, book.KindWatered:
		return markKind{chart.Water, "water", "drop, weighed or watered"}
	}
	return markKind{chart.Laid, "noted", "dot, placed or another entry"}
}
