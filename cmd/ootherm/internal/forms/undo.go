package forms

import (
	"fmt"
	"strings"
	"time"

	"example.com/ootherm/thermal/book"
)

// Undo makes the entries that void an entry and the places that its form made with
// it. Their keys begin with key; their time is at.
func Undo(b *book.Book, target, key string, at time.Time) []book.Entry {
	var voids []book.Entry
	for i, t := 0, target; ; i++ {
		if _, _, ok := b.Entry(t); !ok && i > 0 {
			return voids
		}
		voids = append(voids, book.Entry{Key: fmt.Sprintf("%s.%d", key, i), At: at, Kind: book.KindVoid, Void: t})
		t = fmt.Sprintf("%s.%d", target, i+1)
	}
}

// Whole is the entry that stands for an entry in a list, and with which it is undone: the
// clutch's for the place of an egg that its form made, the first verdict for the others of
// one form. Any other entry stands for itself.
func Whole(b *book.Book, e book.Entry) book.Entry {
	base, _, part := strings.Cut(e.Key, ".")
	if !part || e.Kind != book.KindPlaced && e.Kind != book.KindCandled {
		return e
	}
	if whole, _, ok := b.Entry(base); ok {
		return whole
	}
	return e
}

// Part reports whether an entry was made by a form with another that stands for it.
func Part(b *book.Book, e book.Entry) bool { return Whole(b, e).Key != e.Key }
