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

// Part reports whether an entry is the place of an egg that its clutch's form made.
// It is undone together with the clutch.
func Part(b *book.Book, e book.Entry) bool {
	base, _, part := strings.Cut(e.Key, ".")
	if !part || e.Kind != book.KindPlaced {
		return false
	}
	_, _, ok := b.Entry(base)
	return ok
}
