package demo_test

import (
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/demo"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/review"
)

// At any hour of the day the season's book is valid, and it has something for every page.
func TestBookIsCompleteAtEveryHour(t *testing.T) {
	for hour := range 24 {
		now := time.Date(2026, 3, 10, hour, 59, 59, 0, time.UTC)
		entries, err := demo.New(now).Book()
		if err != nil {
			t.Fatal(err)
		}
		b, err := book.Fold(entries)
		if err != nil {
			t.Fatalf("at %d h: %v", hour, err)
		}
		for _, e := range entries {
			if e.At.After(now) {
				t.Errorf("at %d h: entry %s is still to come, at %v", hour, e.Key, e.At)
			}
		}
		r := review.Of(b, review.Season{From: now.AddDate(0, 0, -demo.Days), To: now}, now, nil)
		kinds := map[book.Kind]bool{}
		for _, e := range entries {
			kinds[e.Kind] = true
		}
		for _, k := range []book.Kind{
			book.KindPairing, book.KindLooked, book.KindRetired, book.KindPlaced, book.KindCandled, book.KindWeighed, book.KindWatered,
			book.KindEmptied, book.KindPipped, book.KindHatched, book.KindLost, book.KindHatchling, book.KindNote,
		} {
			if !kinds[k] {
				t.Errorf("at %d h: nothing is %s", hour, k)
			}
		}
		if len(r.Dams) < 6 || len(r.Shared) != 2 || r.Room.Waiting == 0 || r.Room.Young == 0 || r.Room.Alive.Of == r.Room.Alive.Count {
			t.Errorf("at %d h: the review has nothing to show of one thing: %+v", hour, r.Room)
		}
		stands := map[string]bool{}
		for _, d := range r.Dams {
			for _, c := range d.Comparisons {
				if c.Significant() {
					stands[d.Name] = true
				}
			}
		}
		if len(stands) != 1 || !stands["Lovage"] {
			t.Errorf("at %d h: who stands out is %v, want Lovage with her slugs alone", hour, stands)
		}
		if old := review.Of(b, review.Season{To: now.AddDate(0, 0, -demo.Days)}, now, nil); old.Room.Laid == 0 {
			t.Errorf("at %d h: there is no season before", hour)
		}
	}
}
