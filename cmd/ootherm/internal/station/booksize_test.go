package station

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
)

// The size of a book counts what is new in a draft, once.
func TestCheckBookSize(t *testing.T) {
	note := func(key string, letters int) book.Entry {
		return book.Entry{Key: key, At: time.Unix(1785542400, 0), Kind: book.KindNote, Text: strings.Repeat("x", letters)}
	}
	var long []book.Entry
	for i := range 840 {
		long = append(long, note(fmt.Sprint("k", i), 9_990))
	}
	b, err := book.Fold(long[:839])
	if err != nil {
		t.Fatal(err)
	}
	for what, c := range map[string]struct {
		entries []book.Entry
		fits    bool
	}{
		"what the book has": {long[:839], true}, "a short note": {[]book.Entry{note("n", 10)}, true},
		"one twice": {[]book.Entry{note("n", 5_000), note("n", 5_000)}, true}, "a long note": {long[839:], false},
	} {
		if err := checkBookSize(b, book.NewDraft(c.entries...)); (err == nil) != c.fits {
			t.Errorf("%s: %v", what, err)
		}
	}
	if err := bookSizeError(MaxBookEntries, maxBookText); err != nil {
		t.Errorf("the largest book: %v", err)
	}
	if err := bookSizeError(MaxBookEntries+1, 0); err == nil || !strings.Contains(err.Error(), "20001 entries") {
		t.Errorf("one entry more: %v", err)
	}
}
