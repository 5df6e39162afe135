package book_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/bookfile"
)

// big is a valid book of n entries in order: a dam for each 100 clutches, a box for
// each 10, two eggs a clutch, with all that happens to them.
func big(n int) []book.Entry {
	t := time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)
	es := make([]book.Entry, 0, n+16)
	add := func(e book.Entry) {
		t = t.Add(time.Minute)
		e.Key, e.At, e.Seq = fmt.Sprintf("k%d", len(es)), t, uint64(len(es)+1)
		es = append(es, e)
	}
	for i := 0; len(es) < n; i++ {
		dam, box, clutch := fmt.Sprintf("D%d", i/100), fmt.Sprintf("B%d", i/10), fmt.Sprintf("C%d", i)
		if i%100 == 0 {
			add(book.Entry{Kind: book.KindDam, Dam: book.Names{dam}, Profile: "crested gecko"})
		}
		if i%10 == 0 {
			add(book.Entry{Kind: book.KindBox, Box: box, Zone: "room"})
		}
		add(book.Entry{Kind: book.KindClutch, Clutch: clutch, Dam: book.Names{dam}, Eggs: 2, LaidAfter: t.AddDate(0, 0, -1), LaidBy: t})
		for j := 1; j <= 2; j++ {
			egg := book.EggID(clutch, j)
			add(book.Entry{Kind: book.KindPlaced, Egg: egg, Box: box, Slot: egg})
			add(book.Entry{Kind: book.KindCandled, Egg: egg, Verdict: book.Fertile})
			add(book.Entry{Kind: book.KindWeighed, Box: box, TotalG: new(100.0)})
			add(book.Entry{Kind: book.KindHatched, Egg: egg})
		}
	}
	return es[:n]
}

func BenchmarkFold(b *testing.B) {
	es := big(3000)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := book.Fold(es); err != nil {
			b.Fatal(err)
		}
	}
}

// One entry at the end of a book of many seasons.
func BenchmarkNoteAtEnd(b *testing.B) {
	es := big(3000)
	old, err := book.Fold(es[:2999])
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := old.Note(es[2999]); err != nil {
			b.Fatal(err)
		}
	}
}

// One entry in the middle of such a book.
func BenchmarkNoteBackDated(b *testing.B) {
	es := big(3000)
	odd := book.Entry{Key: "odd", At: es[1500].At, Kind: book.KindNote, Text: "odd"}
	old, err := book.Fold(es)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := old.Note(odd); err != nil {
			b.Fatal(err)
		}
	}
}

// A book noted entry by entry is the book folded at once, and other books made from
// the same ones do not change it.
func TestNotedIsFolded(t *testing.T) {
	es := big(400)
	var one book.Book
	for i, e := range es {
		next, err := one.Note(e)
		if err != nil {
			t.Fatalf("entry %d: %v", i, err)
		}
		if i%100 == 0 { // another future, thrown away
			if _, err := one.Note(book.Entry{Key: "x", At: e.At, Kind: book.KindNote, Text: "x"}, e); err != nil {
				t.Fatalf("entry %d beside a note: %v", i, err)
			}
		}
		one = next
	}
	all, err := book.Fold(es)
	if err != nil {
		t.Fatal(err)
	}
	sameBook(t, one, all)
	if !slices.EqualFunc(slices.Collect(one.Arrived()), es, book.Entry.Same) {
		t.Error("entries did not come back in the order they arrived")
	}
}

// An entry dated into any part of a big book, and a void of any part, give the same
// book as all entries at once.
func TestBackDatedIntoBigBook(t *testing.T) {
	es := big(1500)
	b, err := book.Fold(es)
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range []int{0, 1, 2, 400, 751, 1200, 1498, 1499} {
		added := []book.Entry{{Key: "new", At: es[i].At, Kind: book.KindNote, Text: "new"}}
		for j := i; j < len(es); j++ {
			if es[j].Kind == book.KindWeighed || es[j].Kind == book.KindHatched {
				added = append(added, book.Entry{Key: "undo", At: es[j].At, Kind: book.KindVoid, Void: es[j].Key})
				break
			}
		}
		got, err := b.Note(added...)
		if err != nil {
			t.Fatalf("at entry %d: %v", i, err)
		}
		want, err := book.Fold(slices.Concat(es, added))
		if err != nil {
			t.Fatalf("at entry %d: %v", i, err)
		}
		sameBook(t, got, want)
	}
	again, err := book.Fold(es)
	if err != nil {
		t.Fatal(err)
	}
	sameBook(t, b, again) // it did not change meanwhile
}

func BenchmarkRead(b *testing.B) {
	var s strings.Builder
	if err := bookfile.WriteJSON(&s, slices.Values(big(3000))); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, _, err := read(book.Book{}, s.String()); err != nil {
			b.Fatal(err)
		}
	}
}
