package book_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/booktest"
	"pgregory.net/rapid"
)

// anyEntry draws an entry about a few names only, so that rules meet often.
func anyEntry(t *rapid.T, i int) book.Entry {
	day := func(name string, least, most int) time.Time {
		return time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration(rapid.IntRange(least, most).Draw(t, name)) * 12 * time.Hour)
	}
	pick := func(name string, of ...string) string { return rapid.SampledFrom(of).Draw(t, name) }
	e := book.Entry{Key: fmt.Sprintf("k%d", i), At: day("at", 0, 60)}
	dam := book.Names{pick("dam", "Sorrel", "Fern", "Sorel")}
	mothers := rapid.SampledFrom([]book.Names{{"Sorrel"}, {"Fern"}, {"Sorel"}, {"Fern", "Sorrel"}, {"Sorel", "Sorrel"}, nil}).Draw(t, "mothers")
	clutch := pick("clutch", "S1", "S2", "F1")
	egg := book.EggID(clutch, rapid.IntRange(1, 3).Draw(t, "egg"))
	box, slot, zone := pick("box", "B1", "B2"), pick("slot", "a", "b"), pick("zone", "room", "incubator")
	switch e.Kind = book.Kind(pick("kind", "dam", "box", "clutch", "placed", "placed", "moved egg", "moved box", "candled", "weighed", "watered",
		"pipped", "hatched", "lost", "hatchling", "emptied", "rested", "retired", "pairing", "looked", "void", "note", "amended dam", "amended clutch")); e.Kind {
	case "dam", "rested", "retired":
		e.Dam = dam
	case "pairing":
		e.Dam, e.Sire = dam, "Ash"
	case "looked":
		e.Dam = mothers // none: a lay box of all
	case "box":
		e.Box, e.Zone, e.Probe = box, zone, pick("probe", "", "p1", "p2")
	case "clutch":
		e.Clutch, e.Dam, e.Eggs = clutch, mothers, rapid.IntRange(1, 3).Draw(t, "eggs")
		e.LaidBy = e.At
		e.LaidAfter = e.At.Add(-24 * time.Hour)
	case "placed":
		e.Egg, e.Box, e.Slot = egg, box, slot
	case "moved egg":
		e.Kind, e.Egg, e.Box, e.Slot = book.KindMoved, egg, box, slot
	case "moved box":
		e.Kind, e.Box, e.Zone, e.Probe = book.KindMoved, box, zone, pick("probe", "", "p1", "p2")
		if rapid.Bool().Draw(t, "offset") {
			e.OffsetK = new(float64(rapid.IntRange(-2, 2).Draw(t, "kelvin")))
		}
	case "candled":
		e.Egg, e.Verdict = egg, pick("verdict", book.Fertile, book.Slug)
	case "weighed":
		e.Box, e.TotalG = box, new(100.0)
	case "watered":
		e.Box, e.WaterG = box, new(4.0)
	case "pipped", "hatched", "lost":
		e.Egg = egg
	case "hatchling":
		e.Egg, e.What = egg, pick("what", book.Shed, book.Died)
	case "emptied":
		e.Box = box
	case "void":
		e.Void = fmt.Sprintf("k%d", rapid.IntRange(0, i).Draw(t, "void"))
	case "note":
		e.Text = "note"
	case "amended dam":
		e.Kind, e.Dam, e.Profile, e.Name = book.KindAmended, dam, "leopard gecko", pick("name", "", "Sorrel", "Sorel", "Fern")
	case "amended clutch":
		e.Kind, e.Clutch, e.Profile = book.KindAmended, clutch, "leopard gecko"
	}
	return e
}

// Whatever is noted, and in whatever order of days, a book keeps its rules, and
// is the same as all that was taken folded at once.
func TestAnySequence(t0 *testing.T) {
	taken, refused := map[book.Kind]int{}, map[book.Kind]int{}
	rapid.Check(t0, func(t *rapid.T) {
		kept := booktest.Read(t0, base)
		b, err := book.Fold(kept)
		if err != nil {
			t.Fatal(err)
		}
		for i := range rapid.IntRange(1, 80).Draw(t, "entries") {
			e := anyEntry(t, i)
			next, err := b.Note(e)
			if err != nil {
				refused[e.Kind]++
				continue
			}
			taken[e.Kind]++
			b, kept = next, append(kept, e)
		}
		rulesHold(t, b)
		at, err := book.Fold(kept)
		if err != nil {
			t.Fatalf("taken one by one, refused together: %v", err)
		}
		sameBook(t, b, at)
	})
	for _, k := range []book.Kind{book.KindMoved, book.KindHatched, book.KindVoid, book.KindPlaced, book.KindEmptied, book.KindAmended} {
		if taken[k] == 0 || refused[k] == 0 {
			t0.Errorf("%s: %d taken, %d refused; the test must see both", k, taken[k], refused[k])
		}
	}
}

// Entries noted in one go are taken as they would be in any larger whole: what
// stands at once stands in two halves when the first stands.
func TestAnyTwoHalves(t0 *testing.T) {
	both := 0
	rapid.Check(t0, func(t *rapid.T) {
		es := booktest.Read(t0, base)
		for i := range rapid.IntRange(1, 6).Draw(t, "entries") {
			es = append(es, anyEntry(t, i))
		}
		cut := rapid.IntRange(6, len(es)).Draw(t, "cut")
		whole, errWhole := book.Fold(es)
		half, errHalf := book.Fold(es[:cut])
		if errHalf != nil {
			return
		}
		got, err := half.Note(es[cut:]...)
		if (err == nil) != (errWhole == nil) {
			t.Fatalf("at once: %v; in halves: %v", errWhole, err)
		}
		if err == nil {
			both++
			sameBook(t, whole, got)
		}
		again, err := book.Fold(es[:cut])
		if err != nil {
			t.Fatal(err)
		}
		sameBook(t, half, again) // first asked only now: what came after has not changed it
	})
	if both == 0 {
		t0.Error("no book stood; the test has seen nothing")
	}
}

func rulesHold(t *rapid.T, b book.Book) {
	held := map[string]string{}
	for _, c := range b.Clutches() {
		for _, d := range c.Dams {
			if f, ok := b.Dam(d); !ok || !slices.Contains(f.Clutches, c.ID) {
				t.Fatalf("clutch %s is of %s, whose clutches are %v", c.ID, d, f.Clutches)
			}
		}
		for _, e := range c.Eggs {
			if (e.Fate == book.Hatched || e.Fate == book.Pipped) && !e.FateAt.After(c.Laid.By) {
				t.Fatalf("egg %s was %s at %v, laid by %v", e.ID, e.Fate, e.FateAt, c.Laid.By)
			}
			if e.Fate != book.Hatched && len(e.Hatchling) > 0 {
				t.Fatalf("egg %s is %s and has a hatchling: %+v", e.ID, e.Fate, e.Hatchling)
			}
			for i, h := range e.Hatchling {
				if h.At.Before(e.FateAt) || h.What == book.Died && i < len(e.Hatchling)-1 {
					t.Fatalf("the hatchling of %s, hatched at %v: %+v", e.ID, e.FateAt, e.Hatchling)
				}
			}
			inside := e.Fate == book.Waiting || e.Fate == book.Pipped
			if inside && e.Box != "" {
				at := e.Box + "/" + e.Slot
				if held[at] != "" {
					t.Fatalf("slot %s holds %s and %s", at, held[at], e.ID)
				}
				held[at] = e.ID
			}
			var last time.Time
			for i, s := range e.Stays {
				if s.From.Before(last) || !s.To.IsZero() && !s.From.Before(s.To) {
					t.Fatalf("egg %s has stays out of order: %+v", e.ID, e.Stays)
				}
				if i > 0 && !s.From.Equal(last) {
					t.Fatalf("egg %s was nowhere before %v: %+v", e.ID, s.From, e.Stays)
				}
				if s.To.IsZero() != (inside && i == len(e.Stays)-1) {
					t.Fatalf("egg %s is %s, its stays are %+v", e.ID, e.Fate, e.Stays)
				}
				last = s.To
			}
			if inside && e.Box != "" && len(e.Stays) == 0 {
				t.Fatalf("egg %s is in %s without a stay", e.ID, e.Box)
			}
		}
	}
	n := 0
	for _, x := range b.Boxes() {
		n += len(x.Eggs)
		for i, s := range x.Stays { // in one zone at a time, and in none once emptied
			if i > 0 && (x.Stays[i-1].To.IsZero() || s.From.Before(x.Stays[i-1].To)) || !s.To.IsZero() && !s.From.Before(s.To) {
				t.Fatalf("box %s stands in two places at once: %+v", x.ID, x.Stays)
			}
			if s.To.IsZero() && (!x.InUse || i < len(x.Stays)-1) {
				t.Fatalf("box %s (in use: %v) has stays %+v", x.ID, x.InUse, x.Stays)
			}
		}
		if !x.InUse && len(x.Eggs) > 0 {
			t.Fatalf("box %s is out of use and holds %v", x.ID, x.Eggs)
		}
		for _, e := range x.Eggs {
			if egg, ok := b.Egg(e); !ok || egg.Box != x.ID {
				t.Fatalf("box %s holds %s, which is in %q", x.ID, e, egg.Box)
			}
		}
	}
	if n != len(held) {
		t.Fatalf("boxes hold %d eggs, %d eggs are in a slot", n, len(held))
	}
}
