package bookpages

import (
	"slices"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
)

var noon = time.Date(2026, 6, 9, 12, 0, 0, 0, time.UTC)

// A note names a thing alone, with its kind before it, or among others after commas; a longer
// name is another thing.
func TestNamedInANote(t *testing.T) {
	for about, want := range map[string]bool{"B1": true, "b1": true, "box B1": true, "Sorrel, B1": true, "S1 , box b1": true, "": false, "B10": false, "egg B1": false, "B1 left": false} {
		if named(about, "box", "B1") != want {
			t.Errorf("%q names box B1: %t", about, !want)
		}
	}
	if !named("left, top", "box", "left, top") {
		t.Error("a name with a comma is not found")
	}
}

// Where an egg was follows its stays: an entry at the moment of a move belongs to the place it
// came to, one after the end to none.
func TestStayAtATime(t *testing.T) {
	stays := []book.Stay{{Box: "B1", From: noon, To: noon.Add(time.Hour)}, {Box: "B2", From: noon.Add(time.Hour), To: noon.Add(2 * time.Hour)}}
	for minutes, want := range map[int]string{-1: "", 0: "B1", 59: "B1", 60: "B2", 120: "B2", 121: ""} {
		if got := stayAt(stays, noon.Add(time.Duration(minutes)*time.Minute)).Box; got != want {
			t.Errorf("after %d min it is in %q, want %q", minutes, got, want)
		}
	}
	if got := stayAt([]book.Stay{{Box: "B3", From: noon}}, noon.AddDate(1, 0, 0)).Box; got != "B3" {
		t.Errorf("a stay that lasts is over: %q", got)
	}
}

// A clutch is set beside the sire to whom its dam was put last before it.
func TestLastSireBeforeAClutch(t *testing.T) {
	dam := book.Dam{Pairings: []book.Pairing{{At: noon, Sire: "Juniper"}, {At: noon.AddDate(0, 2, 0), Sire: "Alder"}}}
	for days, want := range map[int]string{-1: "", 30: "Juniper", 90: "Alder"} {
		c := book.Clutch{Laid: book.Laid{By: noon.AddDate(0, 0, days)}}
		if got := lastSire(dam, c); got != want {
			t.Errorf("after %d days it is %q, want %q", days, got, want)
		}
	}
}

// Marks come in the order of their times, whatever the order of arrival, each in its own span
// alone; what was undone has none.
func TestMarksOfASpan(t *testing.T) {
	at := func(days int) time.Time { return noon.AddDate(0, 0, days) }
	b, err := book.Fold([]book.Entry{
		{Key: "d", At: at(-9), Kind: book.KindDam, Dam: book.Names{"Sorrel"}},
		{Key: "b", At: at(-9), Kind: book.KindBox, Box: "B1", Zone: "room"},
		{Key: "w2", At: at(3), Kind: book.KindWeighed, Box: "B1", TotalG: grams(100)},
		{Key: "w1", At: at(1), Kind: book.KindWeighed, Box: "B1", TotalG: grams(101)},
		{Key: "w3", At: at(2), Kind: book.KindWeighed, Box: "B1", TotalG: grams(1)},
		{Key: "v", At: at(4), Kind: book.KindVoid, Void: "w3"},
	})
	if err != nil {
		t.Fatal(err)
	}
	marks := marksOf(&b, OfBox(&b, "B1"))
	var said []string
	for _, m := range append(marks(at(0), at(3)), marks(at(3), at(9))...) {
		said = append(said, m.Title)
	}
	if want := []string{"Box weighed: B1, 101 g", "Box weighed: B1, 100 g"}; !slices.Equal(said, want) {
		t.Errorf("they are %q, want %q", said, want)
	}
}

func grams(g float64) *float64 { return &g }
