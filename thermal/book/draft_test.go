package book

import (
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"
)

// A book that was folded once and then numbered is the book that the stored entries
// fold to.
func TestPreparedIsTheFoldOfWhatIsStored(t *testing.T) {
	const lines = `{"key":"d","at":"2026-04-01T00:00:00Z","entry":"dam","dam":"Sorrel"}

{"key":"b","at":"2026-04-01T00:00:00+02:00","entry":"box","box":"B1","zone":"room"}
{"key":"b","at":"2026-03-31T22:00:00Z","entry":"box","box":"B1","zone":"room"}
{"key":"c","at":"2026-04-02T00:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":2,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}
`
	d, err := ReadDraft(strings.NewReader(lines))
	if err != nil {
		t.Fatal(err)
	}
	p, err := Book{}.Prepare(d)
	if err != nil {
		t.Fatal(err)
	}
	if got := len(p.Fresh()); got != 3 || len(p.Entries()) != 4 {
		t.Errorf("%d of %d entries are new, want 3 of 4", got, len(p.Entries()))
	}
	recorded := time.Date(2026, 4, 3, 8, 0, 0, 0, time.UTC)
	var stored []Entry
	for i, e := range p.Fresh() {
		e.Seq, e.Recorded = uint64(i+7), recorded
		stored = append(stored, e)
	}
	want, err := Fold(stored)
	if err != nil {
		t.Fatal(err)
	}
	got := p.Stored(stored)
	if a, b := slices.Collect(got.Arrived()), slices.Collect(want.Arrived()); !reflect.DeepEqual(a, b) {
		t.Errorf("numbered %+v, want %+v", a, b)
	}
	if !reflect.DeepEqual(got.Clutches(), want.Clutches()) || len(got.Clutches()) != 1 {
		t.Errorf("clutches %+v, want %+v", got.Clutches(), want.Clutches())
	}
}

// One refusal lists lines that cannot be read, rules of others and rules of the book,
// in the order of the lines.
func TestDraftListsAllFaults(t *testing.T) {
	const lines = `{"key":"x","at":"2026-04-01T00:00:00Z","entry":"box","box":"B1","zone":"attic"}
not JSON
{"key":"p","at":"2026-04-02T00:00:00Z","entry":"candled","egg":"S1-1"}
`
	d, err := ReadDraft(strings.NewReader(lines))
	if err != nil {
		t.Fatal(err)
	}
	rule := func(e Entry) Faults {
		if e.Zone == "" {
			return nil
		}
		return Faults{NewFault(e, "zone", "there is no zone %q", e.Zone)}
	}
	_, err = Book{}.Prepare(d.Check(rule))
	faults, ok := err.(Faults)
	if !ok {
		t.Fatalf("no faults: %v", err)
	}
	var at []int
	for _, f := range faults {
		at = append(at, f.Line)
	}
	if !slices.Equal(at[:3], []int{1, 2, 3}) {
		t.Errorf("faults of lines %v: %v", at, faults)
	}
	if _, err := (Book{}).Prepare(d); err == nil || strings.Contains(err.Error(), "attic") {
		t.Errorf("a checked draft changed the one it was made of: %v", err)
	}
}

// A dam without a name could be stored and never be read again.
func TestADamWithoutANameIsRefused(t *testing.T) {
	at := time.Date(2026, 4, 1, 8, 0, 0, 0, time.UTC)
	for _, e := range []Entry{
		{Key: "a", At: at, Kind: KindDam, Dam: Names{""}},
		{Key: "a", At: at, Kind: KindLooked, Dam: Names{"Sorrel", ""}, Found: "false"},
	} {
		_, err := Book{}.Prepare(NewDraft(e))
		var faults Faults
		if !errors.As(err, &faults) || faults[0].Field != "dam" || !strings.HasPrefix(faults[0].Words, "is empty") {
			t.Errorf("%v: the error is %v, want one about an empty dam", e.Dam, err)
		}
	}
}
