package forms

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
)

var at = time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC)

// seasonLines is a book with two dams, one of them retired, three boxes, one of them
// empty and out of use, a clutch with a waiting egg, a pipped one, a hatchling and a
// hatchling that died, and a clutch whose egg has no place yet.
const seasonLines = `{"key":"a1","at":"2026-03-01T08:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"a2","at":"2026-03-01T08:00:00Z","entry":"dam","dam":"Tansy"}
{"key":"a3","at":"2026-03-01T08:00:00Z","entry":"box","box":"B1","zone":"room","dry_g":40,"water_g":40,"total_g":112}
{"key":"a4","at":"2026-03-01T08:00:00Z","entry":"box","box":"B2","zone":"incubator"}
{"key":"a5","at":"2026-03-01T08:00:00Z","entry":"box","box":"B3","zone":"room"}
{"key":"a6","at":"2026-03-02T08:00:00Z","entry":"emptied","box":"B3"}
{"key":"a7","at":"2026-03-02T08:00:00Z","entry":"retired","dam":"Tansy"}
{"key":"c","at":"2026-03-20T08:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":4,"laid_after":"2026-03-19T08:00:00Z","laid_by":"2026-03-20T08:00:00Z"}
{"key":"c.1","at":"2026-03-20T08:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
{"key":"c.2","at":"2026-03-20T08:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}
{"key":"c.3","at":"2026-03-20T08:00:00Z","entry":"placed","egg":"S1-3","box":"B1","slot":"c"}
{"key":"c.4","at":"2026-03-20T08:00:00Z","entry":"placed","egg":"S1-4","box":"B1","slot":"d"}
{"key":"d","at":"2026-05-20T08:00:00Z","entry":"clutch","clutch":"S2","dam":"Sorrel","eggs":1,"laid_after":"2026-05-19T08:00:00Z","laid_by":"2026-05-20T08:00:00Z"}
{"key":"e1","at":"2026-06-01T08:00:00Z","entry":"hatched","egg":"S1-1","mass_g":1.8}
{"key":"e2","at":"2026-06-01T08:00:00Z","entry":"hatched","egg":"S1-2"}
{"key":"e3","at":"2026-06-02T08:00:00Z","entry":"hatchling","egg":"S1-2","what":"died"}
{"key":"e4","at":"2026-06-08T08:00:00Z","entry":"pipped","egg":"S1-4"}
{"key":"f","at":"2026-06-07T19:00:00Z","entry":"looked","dam":"Sorrel","found":false}`

// note adds JSON lines to a book.
func note(t *testing.T, b book.Book, lines string) (book.Book, error) {
	t.Helper()
	draft, err := book.ReadDraft(strings.NewReader(lines))
	if err != nil {
		t.Fatal(err)
	}
	p, err := b.Prepare(draft)
	if err != nil {
		return b, err
	}
	return p.Stored(nil), nil
}

// season is the state of a station with seasonLines in its book.
func season(t *testing.T) Desk {
	t.Helper()
	b, err := note(t, book.Book{}, seasonLines)
	if err != nil {
		t.Fatal(err)
	}
	share := 0.97
	now := &snapshot.Snapshot{
		At: at,
		Zones: []snapshot.Zone{
			{Zone: "incubator", Probes: []snapshot.Probe{{Probe: "incubator-air"}}},
			{Zone: "room", Probes: []snapshot.Probe{{Probe: "shelf"}, {Probe: "dummy-box"}}},
		},
		Boxes: []snapshot.Box{{Box: "B1", Zone: "room", Clutches: []snapshot.Clutch{
			{Clutch: "S1", Developed: &share, Eggs: []snapshot.Egg{{Egg: "S1-3"}, {Egg: "S1-4"}}},
		}}},
	}
	return Desk{
		Book: &b, Now: now, Profiles: []string{"crested gecko", "leopard gecko"}, At: at,
		EggG:   func(string) (least, most float64) { return 1, 3 },
		Reader: words.Reader{Units: words.Celsius, Place: time.UTC},
	}
}

// lines are entries as JSON, one a line.
func lines(t *testing.T, entries []book.Entry) string {
	t.Helper()
	var all []string
	for _, e := range entries {
		line, err := e.MarshalJSON()
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, string(line))
	}
	return strings.Join(all, "\n")
}
