package book_test

import (
	"slices"
	"strings"
	"testing"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/bookfile"
	"example.com/ootherm/thermal/book/booktest"
)

// season is a small book that uses most kinds of entry.
const season = `{"key":"a1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"a2","at":"2026-04-02T19:01:00Z","entry":"box","box":"B1","zone":"room","probe":"dummy-box","medium":"vermiculite","dry_g":40,"water_g":40,"total_g":112}
{"key":"a3","at":"2026-04-02T19:02:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":2,"laid_after":"2026-04-01T19:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
{"key":"a4","at":"2026-04-02T19:03:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
{"key":"a5","at":"2026-04-20T09:00:00Z","entry":"candled","egg":"S1-1","verdict":"fertile"}
{"key":"a6","at":"2026-05-01T09:00:00Z","entry":"weighed","box":"B1","total_g":108}
{"key":"a7","at":"2026-05-01T09:05:00Z","entry":"watered","box":"B1","water_g":4}
{"key":"a8","at":"2026-05-02T09:00:00Z","entry":"moved","box":"B1","zone":"incubator","probe":"p2"}
{"key":"a9","at":"2026-05-03T09:00:00Z","entry":"moved","egg":"S1-1","box":"B2","slot":"a"}
{"key":"b1","at":"2026-06-30T06:00:00Z","entry":"hatched","egg":"S1-1","mass_g":1.9}
{"key":"b2","at":"2026-06-30T06:05:00Z","entry":"lost","egg":"S1-2","why":"mould"}
{"key":"b3","at":"2026-06-30T06:06:00Z","entry":"void","void":"a7"}
`

func TestSeasonKeepsItsBytes(t *testing.T) {
	var out strings.Builder
	if err := bookfile.WriteJSON(&out, slices.Values(booktest.Read(t, season))); err != nil {
		t.Fatal(err)
	}
	if out.String() != season {
		t.Errorf("lines changed on their way through:\n%s", out.String())
	}
}

func TestSeasonFolds(t *testing.T) {
	b := booktest.Fold(t, season)
	e, ok := b.Egg("S1-1")
	if !ok || e.Fate != book.Hatched || e.Verdict != book.Fertile || *e.HatchG != 1.9 {
		t.Errorf("egg S1-1 is %+v", e)
	}
	want := []book.Stay{
		{Box: "B1", Slot: "a", Zone: "room", Probe: "dummy-box", From: booktest.Time(t, "2026-04-02T19:03:00Z"), To: booktest.Time(t, "2026-05-02T09:00:00Z")},
		{Box: "B1", Slot: "a", Zone: "incubator", Probe: "p2", From: booktest.Time(t, "2026-05-02T09:00:00Z"), To: booktest.Time(t, "2026-05-03T09:00:00Z")},
		{Box: "B2", Slot: "a", From: booktest.Time(t, "2026-05-03T09:00:00Z"), To: booktest.Time(t, "2026-06-30T06:00:00Z")},
	}
	if !slices.Equal(e.Stays, want) {
		t.Errorf("stays are\n%v, want\n%v", e.Stays, want)
	}
	x, _ := b.Box("B1")
	if len(x.Waterings) != 0 || len(x.Weighings) != 1 {
		t.Errorf("box B1 has waterings %v (undone) and weighings %v (one)", x.Waterings, x.Weighings)
	}
	if c, _ := b.Clutch("S1"); c.Profile != "crested gecko" {
		t.Errorf("clutch S1 has profile %q, not its dam's", c.Profile)
	}
	if l := b.Len(); l != 12 {
		t.Errorf("book holds %d entries, want 12", l)
	}
	if _, by, _ := b.Entry("a7"); by != "b3" {
		t.Errorf("a7 undone by %q, want b3", by)
	}
}

// A back-dated box entry gives the heat of the days before it.
func TestBoxDescribedLater(t *testing.T) {
	b, err := booktest.Fold(t, season).Note(booktest.Read(t, `{"key":"c1","at":"2026-05-01T00:00:00Z","entry":"box","box":"B2","zone":"room"}`)...)
	if err != nil {
		t.Fatal(err)
	}
	e, _ := b.Egg("S1-1")
	if last := e.Stays[len(e.Stays)-1]; last.Zone != "room" {
		t.Errorf("last stay is %+v, want it in the room", last)
	}
}
