package station

import (
	"fmt"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal/book"
)

// Limits of the book. All of it is in memory, with about 1.2 KB for an entry beside its
// texts (measured), and the unit allows 160 MB for the whole station. A house of forty boxes
// writes 2,000 entries a year (our estimate).
const (
	MaxBookEntries = 20_000
	maxBookText    = 8 << 20 // bytes of the texts of all notes
)

// checkBookSize returns an error if a book would be too large with a draft. A book that is
// too large is refused here, because the next start could not hold it.
func checkBookSize(b book.Book, d book.Draft) error {
	entries, text := b.Len(), 0
	for e := range b.Arrived() {
		text += len(e.Text)
	}
	fresh := map[string]bool{}
	for _, e := range d.Entries() {
		if _, _, there := b.Entry(e.Key); !there && !fresh[e.Key] {
			fresh[e.Key] = true
			entries, text = entries+1, text+len(e.Text)
		}
	}
	if len(fresh) == 0 {
		return nil
	}
	return bookSizeError(entries, text)
}

func bookSizeError(entries, text int) error {
	switch {
	case entries > MaxBookEntries:
		return usererr.New(fmt.Sprintf("the book would have %d entries, and the station has memory for %d; begin a book for the next season: ootherm help next-season", entries, MaxBookEntries))
	case text > maxBookText:
		return usererr.New(fmt.Sprintf("the notes of the book would have %d KB of text, and the station has memory for %d KB; shorten them, or begin a book for the next season: ootherm help next-season", text>>10, maxBookText>>10))
	}
	return nil
}
