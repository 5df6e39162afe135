// Package booktest makes books of entries written by hand, for tests.
package booktest

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
)

// Read parses JSON lines.
func Read(t testing.TB, lines string) []book.Entry {
	t.Helper()
	entries, err := book.ReadAll(strings.NewReader(lines))
	if err != nil {
		t.Fatalf("cannot read the lines of the test: %v", err)
	}
	return entries
}

// Fold makes a book of JSON lines.
func Fold(t testing.TB, lines string) book.Book {
	t.Helper()
	b, err := book.Fold(Read(t, lines))
	if err != nil {
		t.Fatalf("cannot fold the lines of the test: %v", err)
	}
	return b
}

// Time parses an RFC 3339 time.
func Time(t testing.TB, text string) time.Time {
	t.Helper()
	v, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Lines writes entries as JSON lines, with keys k1, k2 and so on. The zero Lines
// has none.
type Lines struct {
	text strings.Builder
	n    int
}

// LinesFrom is Lines whose first key has the number after n.
func LinesFrom(n int) *Lines { return &Lines{n: n} }

// Add writes an entry of a day: its kind, and what follows that, in JSON.
func (l *Lines) Add(day, format string, args ...any) {
	l.n++
	fmt.Fprintf(&l.text, `{"key":"k%d","at":"%sT00:00:00Z","entry":%s}`+"\n", l.n, day, fmt.Sprintf(format, args...))
}

// Clutch writes a clutch that was laid and found on a day. The dam is empty or
// like `"dam":"Sorrel",`.
func (l *Lines) Clutch(day, id, dam string, eggs int) {
	l.Add(day, `"clutch","clutch":"%s",%s"eggs":%d,"laid_after":"%sT00:00:00Z","laid_by":"%sT00:00:00Z"`, id, dam, eggs, day, day)
}

func (l *Lines) String() string { return l.text.String() }
