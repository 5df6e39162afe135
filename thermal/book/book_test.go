package book_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/booktest"
)

func TestQueries(t *testing.T) {
	b := booktest.Fold(t, base+`{"key":"e1","at":"2026-04-01T00:00:00Z","entry":"box","box":"B3","zone":"shelf","probe":"p3"}
{"key":"e2","at":"2026-04-05T00:00:00Z","entry":"emptied","box":"B3"}
{"key":"m1","at":"2026-04-05T00:00:00Z","entry":"moved","box":"B2","zone":"shelf","probe":"p2"}
{"key":"f1","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"F1","dam":["Fern","Sorrel"],"eggs":1,"laid_after":"2026-03-25T00:00:00Z","laid_by":"2026-03-26T00:00:00Z"}
{"key":"f2","at":"2026-04-04T00:00:00Z","entry":"clutch","clutch":"F2","dam":"Fern","profile":"my line","eggs":1,"laid_after":"2026-04-03T00:00:00Z","laid_by":"2026-04-04T00:00:00Z"}
{"key":"g1","at":"2026-03-01T00:00:00Z","entry":"note","about":"room","text":"new heater"}
{"key":"q1","at":"2026-05-01T00:00:00Z","entry":"calibrated","probe":"p2","points":[{"reference_c":0,"read_c":0.2}]}
{"key":"q2","at":"2026-05-02T00:00:00Z","entry":"calibrated","probe":"p2","from":"2026-04-01T00:00:00Z","points":[{"reference_rh":0.753,"read_rh":0.77}]}
{"key":"r1","at":"2026-04-10T00:00:00Z","entry":"pairing","dam":"Fern","sire":"Ash"}
{"key":"r2","at":"2026-04-11T00:00:00Z","entry":"rested","dam":"Fern"}
{"key":"r3","at":"2026-04-12T00:00:00Z","entry":"retired","dam":"Fern"}
{"key":"l1","at":"2026-04-12T00:00:00Z","entry":"looked","found":"digging"}
`)
	expect := func(what string, got, want any) {
		t.Helper()
		if !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v, want %+v", what, got, want)
		}
	}
	var order, profiles []string
	for _, c := range b.Clutches() {
		order, profiles = append(order, c.ID), append(profiles, c.Profile)
	}
	expect("clutches as laid", order, []string{"F1", "S1", "F2"})
	expect("their profiles", profiles, []string{"", "crested gecko", "my line"})
	fern, _ := b.Dam("Fern")
	expect("a dam", fern, book.Dam{Name: "Fern", Profile: "gargoyle gecko", Clutches: []string{"F1", "F2"},
		Pairings: []book.Pairing{{At: booktest.Time(t, "2026-04-10T00:00:00Z"), Sire: "Ash"}},
		Rested:   []time.Time{booktest.Time(t, "2026-04-11T00:00:00Z")}, Retired: booktest.Time(t, "2026-04-12T00:00:00Z")})
	var from []string
	for _, c := range b.Calibrations("p2") {
		from = append(from, c.Key+" "+c.From.Format(time.DateOnly))
	}
	expect("calibrations in the order they hold", from, []string{"q2 2026-04-01", "q1 2026-05-01"})
	expect("calibrations of another probe", b.Calibrations("p9"), []book.Calibration(nil))
	expect("notes", b.Notes(), []book.Note{{Key: "g1", About: "room", Text: "new heater", At: booktest.Time(t, "2026-03-01T00:00:00Z")}})
	expect("looks of no dam", b.Looks(), []book.Look{{At: booktest.Time(t, "2026-04-12T00:00:00Z"), Found: `"digging"`}})
	x, _ := b.Box("B3")
	expect("an emptied box", x, book.Box{ID: "B3", Zone: "shelf", Probe: "p3",
		Stays: []book.Stay{{Box: "B3", Zone: "shelf", Probe: "p3", From: booktest.Time(t, "2026-04-01T00:00:00Z"), To: booktest.Time(t, "2026-04-05T00:00:00Z")}}})

	_, clutch := b.Clutch("S9")
	_, egg := b.Egg("S1-3")
	_, noEgg := b.Egg("S1")
	_, box := b.Box("B9")
	_, dam := b.Dam("Moss")
	_, _, entry := b.Entry("zz")
	expect("what is not there", []bool{clutch, egg, noEgg, box, dam, entry}, make([]bool, 6))
}

func TestEmptyBook(t *testing.T) {
	var b book.Book
	if b.Len() != 0 || len(b.Dams())+len(b.Clutches())+len(b.Boxes())+len(b.Notes()) != 0 {
		t.Error("the empty book holds something")
	}
	if same, err := b.Note(); err != nil || same.Len() != 0 {
		t.Errorf("nothing noted: %v", err)
	}
}

func TestFaultsSayWhere(t *testing.T) {
	f := book.Faults{{Key: "k", Line: 3, Field: "egg", Words: "is wrong"}, {Line: 4, Words: "is no JSON"}, {Words: "is odd"}}
	if got, want := f.Error(), "line 3, entry k: egg: is wrong\nline 4: is no JSON\nis odd"; got != want {
		t.Errorf("error is %q, want %q", got, want)
	}
}

// A file that is no book has a fault in each line. They are not all listed.
func TestManyFaults(t *testing.T) {
	_, err := book.ReadAll(strings.NewReader(strings.Repeat("time,23.1\n", 5000)))
	if err == nil || strings.Count(err.Error(), "\n") != 100 || !strings.HasSuffix(err.Error(), "\nand 4900 more: is it a book, one JSON object a line?") {
		t.Errorf("%.200v", err)
	}
}

// Times and other entries are told as each reader calls them, in what a fault is
// made of too.
func TestFaultsAreToldAsTheirReaderCallsThings(t *testing.T) {
	b := booktest.Fold(t, base+`{"key":"h","at":"2026-07-01T00:30:00Z","entry":"hatched","egg":"S1-1"}
`)
	for _, c := range []struct{ line, by, page string }{
		{`{"key":"n","at":"2026-07-02T00:00:00Z","entry":"hatched","egg":"S1-1"}`,
			"S1-1 hatched already (entry h of 30 June 20:30)", "S1-1 hatched already (a hatched of S1-1)"},
		{`{"key":"n","at":"2026-03-03T00:00:00Z","entry":"pairing","dam":"Sorrel","sire":"Ash"}`,
			"is not in the book on 2 March 19:00: enter her first, or check the name and the date; it is there only later (entry d1 of 31 March 20:00)",
			"it is there only later (a dam of )"},
		{`{"key":"n","at":"2026-07-04T00:00:00Z","entry":"void","void":"x1"}`,
			"x1 cannot be undone while p1 depends on it: undo that first", "a box of  cannot be undone while a placed of S1-1 depends on it"},
	} {
		_, err := b.Note(booktest.Read(t, c.line)...)
		var f book.Faults
		if !errors.As(err, &f) {
			t.Fatalf("%s: %v", c.line, err)
		}
		was := f.Error()
		told := book.Wording{Time: func(t time.Time) string { return t.Add(-4 * time.Hour).Format("2 January 15:04") }}
		if strings.Contains(c.line, "pairing") {
			told.Time = func(t time.Time) string {
				if t.Month() == time.March {
					return t.Add(-5 * time.Hour).Format("2 January 15:04")
				}
				return t.Add(-4 * time.Hour).Format("2 January 15:04")
			}
		}
		if got := f.In(told).ErrorMessage(); !strings.Contains(got, c.by) || strings.Contains(got, "UTC") {
			t.Errorf("by keys: %q, want %q", got, c.by)
		}
		told.Entry = func(e book.Entry) string { return "a " + string(e.Kind) + " of " + e.Egg }
		if got := f.In(told).ErrorMessage(); !strings.Contains(got, c.page) || strings.Contains(got, "UTC") {
			t.Errorf("on the page: %q, want %q", got, c.page)
		}
		if f.Error() != was {
			t.Errorf("telling it changed it to %q", f)
		}
	}
}

// A name is as long as it is to who reads it: in letters, not in bytes.
func TestLengthsAreInLetters(t *testing.T) {
	for n, ok := range map[int]bool{200: true, 201: false} {
		err := book.Entry{Key: "n", At: time.Unix(1e9, 0), Kind: book.KindDam, Dam: book.Names{strings.Repeat("ж", n)}}.Check()
		if (err == nil) != ok || !ok && !strings.Contains(err.Error(), "longer than 200 letters") {
			t.Errorf("%d letters: %v", n, err)
		}
	}
	for n, ok := range map[int]bool{10_000: true, 10_001: false} {
		err := book.Entry{Key: "n", At: time.Unix(1e9, 0), Kind: book.KindNote, Text: strings.Repeat("ж", n)}.Check()
		if (err == nil) != ok || !ok && !strings.Contains(err.Error(), "longer than 10000 letters") {
			t.Errorf("a text of %d letters: %v", n, err)
		}
	}
}

func TestUnmarshal(t *testing.T) {
	var es []book.Entry
	list := "[" + strings.ReplaceAll(strings.TrimSpace(season), "\n", ",") + "]"
	if err := json.Unmarshal([]byte(list), &es); err != nil || len(es) != 12 || !es[3].Same(booktest.Read(t, season)[3]) {
		t.Errorf("unmarshalled %d entries, error %v", len(es), err)
	}
	if err := json.Unmarshal([]byte(`[{"key":"a"}]`), &es); err == nil {
		t.Error("a bad entry was unmarshalled")
	}
}

// A void with many dependents names enough of them to begin with.
func TestVoidOfMuch(t *testing.T) {
	var l booktest.Lines
	l.Add("2026-04-01", `"dam","dam":"Sorrel"`)
	for i := range 30 {
		l.Clutch("2026-04-02", fmt.Sprintf("C%d", i), `"dam":"Sorrel",`, 1)
	}
	_, err := booktest.Fold(t, l.String()).Note(booktest.Read(t, `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"void","void":"k1"}`)...)
	if err == nil || !strings.Contains(err.Error(), "k2, k3, ") || !strings.Contains(err.Error(), "and 10 more depend on it") {
		t.Errorf("error is %v", err)
	}
}
