package book_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/booktest"
)

// base is a book to which each case adds lines: two dams, two boxes, one clutch
// of two eggs with the first in B1, slot a.
const base = `{"key":"d1","at":"2026-04-01T00:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"d2","at":"2026-04-01T00:00:00Z","entry":"dam","dam":"Fern","profile":"gargoyle gecko"}
{"key":"x1","at":"2026-04-01T00:00:00Z","entry":"box","box":"B1","zone":"room"}
{"key":"x2","at":"2026-04-01T00:00:00Z","entry":"box","box":"B2","zone":"incubator"}
{"key":"c1","at":"2026-04-02T00:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":2,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}
{"key":"p1","at":"2026-04-02T00:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
`

func TestRefused(t *testing.T) {
	for _, c := range []struct {
		fault string
		lines string
		keys  string // at fault
		words string // in the error
	}{
		{"slot taken", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"a"}`, "n", "slot a of box B1 holds S1-1"},
		{"placed twice", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"placed","egg":"S1-1","box":"B2","slot":"a"}`, "n", "entry p1"},
		{"placed in no box", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"placed","egg":"S1-2","box":"B9","slot":"a"}`, "n", "B9 is not in the book"},
		{"moved before placed", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"moved","egg":"S1-2","box":"B2","slot":"a"}`, "n", "say first where it was placed"},
		{"moved on a day before it was placed", `{"key":"n","at":"2026-04-01T00:00:00Z","entry":"moved","egg":"S1-1","box":"B2","slot":"a"}`, "n", "not in the book on 2026-04-01"},
		{"moved into a taken slot", `{"key":"m","at":"2026-04-03T00:00:00Z","entry":"placed","egg":"S1-2","box":"B2","slot":"a"}
{"key":"n","at":"2026-04-04T00:00:00Z","entry":"moved","egg":"S1-2","box":"B1","slot":"a"}`, "n", "holds S1-1"},
		{"a box moved that is not there", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"moved","box":"B9","zone":"room"}`, "n", "B9"},
		{"hatched before it was laid", `{"key":"n","at":"2026-04-02T00:00:00Z","entry":"hatched","egg":"S1-1"}`, "n", "no later than it was laid"},
		{"hatched twice", `{"key":"m","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1"}
{"key":"n","at":"2026-07-02T00:00:00Z","entry":"hatched","egg":"S1-1"}`, "n", "hatched already (entry m"},
		{"lost after it hatched", `{"key":"m","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1"}
{"key":"n","at":"2026-07-02T00:00:00Z","entry":"lost","egg":"S1-1"}`, "n", "hatched already (entry m"},
		{"hatched after it was lost", `{"key":"m","at":"2026-07-01T00:00:00Z","entry":"lost","egg":"S1-1"}
{"key":"n","at":"2026-07-02T00:00:00Z","entry":"hatched","egg":"S1-1"}`, "n", "was lost already (entry m"},
		{"moved after it hatched", `{"key":"m","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1"}
{"key":"n","at":"2026-07-02T00:00:00Z","entry":"moved","egg":"S1-1","box":"B2","slot":"a"}`, "n", "hatched already"},
		{"pipped twice", `{"key":"m","at":"2026-07-01T00:00:00Z","entry":"pipped","egg":"S1-1"}
{"key":"n","at":"2026-07-02T00:00:00Z","entry":"pipped","egg":"S1-1"}`, "n", "pipped already"},
		{"an egg past the end of its clutch", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"candled","egg":"S1-3","verdict":"fertile"}`, "n", "S1 has 2 eggs, up to S1-2"},
		{"an egg of no clutch", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"candled","egg":"S9-1","verdict":"fertile"}`, "n", "clutch S9"},
		{"a clutch of no dam", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"S2","dam":["Sorrel","Moss"],"eggs":2,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}`, "n", "Moss is not in the book"},
		{"a clutch before its dam", `{"key":"n","at":"2026-03-03T00:00:00Z","entry":"clutch","clutch":"S2","dam":"Sorrel","eggs":2,"laid_after":"2026-03-01T00:00:00Z","laid_by":"2026-03-02T00:00:00Z"}`, "n", "there only later (entry d1 of 2026-04-01 00:00 UTC)"},
		{"a clutch twice", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"S1","eggs":2,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}`, "n", "entry c1"},
		{"a clutch of a dam retired before", `{"key":"m","at":"2026-05-01T00:00:00Z","entry":"retired","dam":"Sorrel"}
{"key":"n","at":"2026-06-03T00:00:00Z","entry":"clutch","clutch":"S2","dam":"Sorrel","eggs":2,"laid_after":"2026-06-01T00:00:00Z","laid_by":"2026-06-02T00:00:00Z"}`, "n", "retired before"},
		{"a retired dam paired", `{"key":"m","at":"2026-05-01T00:00:00Z","entry":"retired","dam":"Sorrel"}
{"key":"n","at":"2026-06-03T00:00:00Z","entry":"pairing","dam":"Sorrel","sire":"Ash"}`, "n", "was retired (entry m"},
		{"a dam twice", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":"Fern"}`, "n", "entry d2"},
		{"a dam amended that is not there", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"amended","dam":"Moss","profile":"crested gecko"}`, "n", "Moss is not in the book"},
		{"a dam amended before she is there", `{"key":"n","at":"2026-03-03T00:00:00Z","entry":"amended","dam":"Fern","profile":"crested gecko"}`, "n", "there only later (entry d2"},
		{"a dam given another's name", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"amended","dam":"Fern","name":"Sorrel"}`, "n", "another dam is called Sorrel"},
		{"two dams given one name", `{"key":"m","at":"2026-04-03T00:00:00Z","entry":"amended","dam":"Fern","name":"Moss"}
{"key":"n","at":"2026-04-04T00:00:00Z","entry":"amended","dam":"Sorrel","name":"Moss"}`, "n", "another dam is called Moss"},
		{"a new dam with a name that another had", `{"key":"m","at":"2026-04-03T00:00:00Z","entry":"amended","dam":"Fern","name":"Moss"}
{"key":"n","at":"2026-04-04T00:00:00Z","entry":"dam","dam":"Fern"}`, "n", "Fern is in the book already"},
		{"an amended name undone that an entry uses", `{"key":"m","at":"2026-04-03T00:00:00Z","entry":"amended","dam":"Fern","name":"Moss"}
{"key":"o","at":"2026-04-02T00:00:00Z","entry":"pairing","dam":"Moss","sire":"Ash"}
{"key":"n","at":"2026-04-04T00:00:00Z","entry":"void","void":"m"}`, "n", "m cannot be undone while o depends on it"},
		{"an amended dam undone", `{"key":"m","at":"2026-04-03T00:00:00Z","entry":"amended","dam":"Fern","profile":"crested gecko"}
{"key":"n","at":"2026-04-04T00:00:00Z","entry":"void","void":"d2"}`, "n", "d2 cannot be undone while m depends on it"},
		{"a clutch amended that is not there", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"amended","clutch":"S9","profile":"crested gecko"}`, "n", "clutch S9 is not in the book"},
		{"a box emptied with an egg in it", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"emptied","box":"B1"}`, "n", "still holds S1-1"},
		{"a box set up with an egg in it", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"box","box":"B1","zone":"incubator"}`, "n", "still holds S1-1"},
		{"a box emptied twice", `{"key":"m","at":"2026-04-03T00:00:00Z","entry":"emptied","box":"B2"}
{"key":"n","at":"2026-04-04T00:00:00Z","entry":"emptied","box":"B2"}`, "n", "was emptied (entry m"},
		{"an emptied box weighed", `{"key":"m","at":"2026-04-03T00:00:00Z","entry":"emptied","box":"B2"}
{"key":"n","at":"2026-04-04T00:00:00Z","entry":"weighed","box":"B2","total_g":90}`, "n", "set it up again"},
		{"a void of a hatch with a hatchling", `{"key":"m","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1"}
{"key":"o","at":"2026-07-02T00:00:00Z","entry":"hatchling","egg":"S1-1","what":"shed"}
{"key":"n","at":"2026-07-04T00:00:00Z","entry":"void","void":"m"}`, "n", "o depends on it"},
		{"a hatchling of an egg", `{"key":"n","at":"2026-07-04T00:00:00Z","entry":"hatchling","egg":"S1-1","what":"shed"}`, "n", "has not hatched"},
		{"a dead hatchling fed", `{"key":"k","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1"}
{"key":"m","at":"2026-07-02T00:00:00Z","entry":"hatchling","egg":"S1-1","what":"died"}
{"key":"n","at":"2026-07-04T00:00:00Z","entry":"hatchling","egg":"S1-1","what":"fed"}`, "n", "died (entry m"},
		{"a void of nothing", `{"key":"n","at":"2026-07-04T00:00:00Z","entry":"void","void":"zz"}`, "n", "no entry has the key zz"},
		{"a void of a void", `{"key":"m","at":"2026-07-04T00:00:00Z","entry":"void","void":"d2"}
{"key":"n","at":"2026-07-04T00:00:00Z","entry":"void","void":"m"}`, "n", "itself a void"},
		{"a void twice", `{"key":"m","at":"2026-07-04T00:00:00Z","entry":"void","void":"d2"}
{"key":"n","at":"2026-07-04T00:00:00Z","entry":"void","void":"d2"}`, "n", "undone already (entry m"},
		{"a void of a dam with a clutch", `{"key":"n","at":"2026-07-04T00:00:00Z","entry":"void","void":"d1"}`, "n", "d1 cannot be undone while c1 depends on it"},
		{"a void of a clutch with an egg placed", `{"key":"n","at":"2026-07-04T00:00:00Z","entry":"void","void":"c1"}`, "n", "p1 depends"},
		{"a void of a box with an egg in it", `{"key":"n","at":"2026-07-04T00:00:00Z","entry":"void","void":"x1"}`, "n", "p1 depends"},
		{"a void and what it needs in one file", `{"key":"m","at":"2026-04-03T00:00:00Z","entry":"moved","egg":"S1-1","box":"B2","slot":"a"}
{"key":"o","at":"2026-04-04T00:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"a"}
{"key":"n","at":"2026-07-04T00:00:00Z","entry":"void","void":"m"}`, "n", "o depends on it (slot a of box B1 holds S1-1"},
		{"a key with the content of an amended entry", `{"key":"m1","at":"2026-04-01T00:00:00Z","entry":"amended","dam":"Sorrel","why":"a slip","profile":"leopard gecko"}
{"key":"m1","at":"2026-04-01T00:00:00Z","entry":"note","text":"x"}`, "m1", "an amended entry"},
		{"a key with other content", `{"key":"d1","at":"2026-04-01T00:00:00Z","entry":"dam","dam":"Moss"}`, "d1", "other content"},
		{"every bad entry, and only those", `{"key":"n1","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"S2","dam":"Moss","eggs":1,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}
{"key":"o1","at":"2026-04-03T00:00:00Z","entry":"placed","egg":"S2-1","box":"B1","slot":"b"}
{"key":"o2","at":"2026-04-04T00:00:00Z","entry":"moved","egg":"S2-1","box":"B2","slot":"b"}
{"key":"n2","at":"2026-04-04T00:00:00Z","entry":"placed","egg":"S1-2","box":"B8","slot":"b"}
{"key":"o3","at":"2026-04-05T00:00:00Z","entry":"moved","egg":"S1-2","box":"B2","slot":"b"}
{"key":"n3","at":"2026-04-05T00:00:00Z","entry":"emptied","box":"B1"}`, "n1 n2 n3", "Moss"},
	} {
		t.Run(c.fault, func(t *testing.T) {
			b, err := book.Fold(booktest.Read(t, base+c.lines))
			var f book.Faults
			if !errors.As(err, &f) {
				t.Fatalf("taken: %v", err)
			}
			if b.Len() != 0 {
				t.Errorf("a book of %d entries came beside the error", b.Len())
			}
			if got := strings.Join(keysOf(f), " "); got != c.keys {
				t.Errorf("at fault %q, want %q: %v", got, c.keys, err)
			}
			if !strings.Contains(err.Error(), c.words) {
				t.Errorf("error %q does not say %q", err, c.words)
			}
		})
		if c.fault == "a key with other content" || strings.Contains(c.fault, "one file") {
			continue
		}
		t.Run(c.fault+", entry by entry", func(t *testing.T) {
			one, last := booktest.Fold(t, base), error(nil)
			var refused []string
			for _, e := range booktest.Read(t, c.lines) {
				next, err := one.Note(e)
				if err != nil {
					last, refused = err, append(refused, e.Key)
					continue
				}
				one = next
			}
			if last == nil || !strings.Contains(" "+strings.Join(refused, " "), " "+strings.Fields(c.keys)[0]) {
				t.Errorf("refused %v, want %s: %v", refused, c.keys, last)
			}
		})
	}
}

func TestTaken(t *testing.T) {
	for _, c := range []struct{ what, lines string }{
		{"several dams in one box", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"F1","dam":"Fern","eggs":1,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}
{"key":"m","at":"2026-04-03T00:00:00Z","entry":"placed","egg":"F1-1","box":"B1","slot":"b"}`},
		{"females living together", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"F1","dam":["Fern","Sorrel"],"eggs":1,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}`},
		{"a clutch of nobody", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"F1","eggs":1,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}`},
		{"a clutch without a pairing, and one of a dam paired later", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"F1","dam":"Fern","eggs":1,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}
{"key":"m","at":"2026-04-10T00:00:00Z","entry":"pairing","dam":"Fern","sire":"Ash"}`},
		{"a box moved from zone to zone and back", `{"key":"m","at":"2026-04-10T00:00:00Z","entry":"moved","box":"B1","zone":"incubator","probe":"p2"}
{"key":"n","at":"2026-04-20T00:00:00Z","entry":"moved","box":"B1","zone":"room"}`},
		{"a slot used again", `{"key":"m","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1"}
{"key":"n","at":"2026-07-02T00:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"a"}`},
		{"a box emptied and set up again", `{"key":"m","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1"}
{"key":"n","at":"2026-07-02T00:00:00Z","entry":"emptied","box":"B1"}
{"key":"o","at":"2026-07-03T00:00:00Z","entry":"box","box":"B1","zone":"incubator"}
{"key":"p","at":"2026-07-04T00:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"a"}`},
		{"an emptied box used as it stood", `{"key":"m","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1"}
{"key":"n","at":"2026-07-02T00:00:00Z","entry":"emptied","box":"B1"}
{"key":"p","at":"2026-07-04T00:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"a"}`},
		{"a rested dam lays", `{"key":"m","at":"2026-05-01T00:00:00Z","entry":"rested","dam":"Sorrel"}
{"key":"n","at":"2026-06-03T00:00:00Z","entry":"clutch","clutch":"S2","dam":"Sorrel","eggs":2,"laid_after":"2026-06-01T00:00:00Z","laid_by":"2026-06-02T00:00:00Z"}`},
		{"a dam retired after she laid", `{"key":"m","at":"2026-06-01T00:00:00Z","entry":"retired","dam":"Sorrel"}
{"key":"n","at":"2026-06-03T00:00:00Z","entry":"clutch","clutch":"S2","dam":"Sorrel","eggs":2,"laid_after":"2026-06-01T00:00:00Z","laid_by":"2026-06-02T00:00:00Z"}`},
		{"a hatch back-dated before a candling of another egg", `{"key":"m","at":"2026-08-01T00:00:00Z","entry":"candled","egg":"S1-2","verdict":"slug"}
{"key":"n","at":"2026-07-01T00:00:00Z","entry":"hatched","egg":"S1-1"}`},
		{"a void of the last entry", `{"key":"m","at":"2026-04-10T00:00:00Z","entry":"void","void":"p1"}`},
		{"a void and its replacement", `{"key":"m","at":"2026-04-10T00:00:00Z","entry":"void","void":"d1"}
{"key":"n","at":"2026-04-01T00:00:00Z","entry":"dam","dam":"Sorrel","profile":"gargoyle gecko"}`},
		{"a lost egg opened and candled", `{"key":"m","at":"2026-05-01T00:00:00Z","entry":"lost","egg":"S1-1"}
{"key":"n","at":"2026-05-02T00:00:00Z","entry":"candled","egg":"S1-1","verdict":"fertile"}`},
		{"a dam amended, and amended back", `{"key":"m","at":"2026-04-03T00:00:00Z","entry":"amended","dam":"Fern","name":"Moss","profile":"crested gecko"}
{"key":"n","at":"2026-04-04T00:00:00Z","entry":"amended","dam":"Moss","name":"Fern"}`},
		{"an amended name in an entry of an earlier day", `{"key":"m","at":"2026-04-03T00:00:00Z","entry":"amended","dam":"Fern","name":"Moss"}
{"key":"n","at":"2026-04-02T00:00:00Z","entry":"clutch","clutch":"F1","dam":["Moss","Fern"],"eggs":1,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}`},
		{"an amendment undone", `{"key":"m","at":"2026-04-03T00:00:00Z","entry":"amended","dam":"Fern","name":"Moss"}
{"key":"n","at":"2026-04-04T00:00:00Z","entry":"void","void":"m"}`},
		{"looks, with and without a dam", `{"key":"m","at":"2026-05-01T00:00:00Z","entry":"looked","dam":"Sorrel","found":"digging"}
{"key":"n","at":"2026-05-02T00:00:00Z","entry":"looked"}
{"key":"o","at":"2026-05-02T00:00:00Z","entry":"looked","dam":["Sorrel","Fern"],"found":false}`},
		{"the same entry again", `{"key":"d1","at":"2026-04-01T00:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}`},
		{"a calibration and a note", `{"key":"m","at":"2026-05-01T00:00:00Z","entry":"calibrated","probe":"p2","from":"2026-04-01T00:00:00Z","points":[{"reference_c":0,"read_c":0.2}]}
{"key":"n","at":"2026-05-02T00:00:00Z","entry":"note","about":"S1-1","text":"dented"}`},
	} {
		t.Run(c.what, func(t *testing.T) {
			atOnce := booktest.Fold(t, base+c.lines)
			later, err := booktest.Fold(t, base).Note(booktest.Read(t, c.lines)...)
			if err != nil {
				t.Fatal(err)
			}
			sameBook(t, atOnce, later)
		})
	}
}

// A new entry that lets an old one no longer stand is named, with the old one.
func TestBackDatedBreaksLater(t *testing.T) {
	b := booktest.Fold(t, base+`{"key":"m1","at":"2026-05-01T00:00:00Z","entry":"moved","egg":"S1-1","box":"B2","slot":"a"}
`)
	_, err := b.Note(booktest.Read(t, `{"key":"n","at":"2026-04-20T00:00:00Z","entry":"lost","egg":"S1-1"}`)...)
	var f book.Faults
	if !errors.As(err, &f) || !slices.Equal(keysOf(f), []string{"n"}) || !strings.Contains(err.Error(), "m1 could no longer stand") {
		t.Errorf("error is %v", err)
	}
	if b.Len() != 7 {
		t.Errorf("the old book now holds %d entries", b.Len())
	}
}

// Read lists what cannot be read and what breaks a rule together, by line.
func TestReadListsAll(t *testing.T) {
	_, fresh, err := read(book.Book{}, base+`{"key":"n1","at":"2026-04-03","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}
{"key":"o1","at":"2026-04-04T00:00:00Z","entry":"moved","egg":"S1-2","box":"B2","slot":"b"}

not JSON
{"key":"n2","at":"2026-04-04T00:00:00Z","entry":"hatched","egg":"S7-1","mass":3}
{"key":"n3","at":"2026-04-05T00:00:00Z","entry":"emptied","box":"B1"}
`)
	var f book.Faults
	if !errors.As(err, &f) || fresh != nil {
		t.Fatalf("error is %v, entries %v", err, fresh)
	}
	var lines []int
	for _, one := range f {
		lines = append(lines, one.Line)
	}
	if !slices.Equal(lines, []int{7, 10, 11, 12}) || !slices.Equal(keysOf(f), []string{"n1", "n2", "n3"}) {
		t.Errorf("at fault: lines %v, keys %v\n%v", lines, keysOf(f), err)
	}
}

func TestReadGivesWhatIsNew(t *testing.T) {
	b := booktest.Fold(t, base)
	next, fresh, err := read(b, base+`{"key":"n1","at":"2026-04-03T00:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}`)
	if err != nil || len(fresh) != 1 || fresh[0].Key != "n1" || next.Len() != b.Len()+1 {
		t.Errorf("new are %v, the book holds %d, error %v", fresh, next.Len(), err)
	}
}

// keysOf lists the keys of the entries at fault, each once.
func keysOf(f book.Faults) []string {
	var keys []string
	for _, one := range f {
		if one.Key != "" && !slices.Contains(keys, one.Key) {
			keys = append(keys, one.Key)
		}
	}
	return keys
}
