package book_test

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"example.com/ootherm/thermal/book"
)

func TestParseRefuses(t *testing.T) {
	for _, c := range []struct{ fault, line, field, words string }{
		{"an unknown field", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":"Moss","colour":"red"}`, "colour", "no field of an entry"},
		{"a field in other letters", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"looked","Dam":"Moss"}`, "Dam", "spelling"},
		{"a field of another kind", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":"Moss","slot":"a"}`, "slot", "does not belong"},
		{"a field twice", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":"Moss","dam":"Fern"}`, "dam", "twice"},
		{"an offset that is a reading", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"box","box":"B1","zone":"room","offset_k":23.5}`, "offset_k", "in kelvin"},
		{"an offset of an egg", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"moved","egg":"S1-1","box":"B1","slot":"a","offset_k":0.5}`, "offset_k", "does not belong"},
		{"an unknown kind", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"egg"}`, "entry", "no kind of entry"},
		{"no kind", `{"key":"n","at":"2026-04-03T00:00:00Z"}`, "entry", "missing"},
		{"no key", `{"at":"2026-04-03T00:00:00Z","entry":"dam","dam":"Moss"}`, "key", "missing"},
		{"no time", `{"key":"n","entry":"dam","dam":"Moss"}`, "at", "missing"},
		{"no dam", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam"}`, "dam", "missing"},
		{"a date without a time", `{"key":"n","at":"2026-04-03","entry":"dam","dam":"Moss"}`, "at", "RFC 3339"},
		{"a time without a zone", `{"key":"n","at":"2026-04-03T00:00:00","entry":"dam","dam":"Moss"}`, "at", "RFC 3339"},
		{"a time before there was any", `{"key":"n","at":"0001-01-01T00:00:00Z","entry":"dam","dam":"Moss"}`, "at", "year 1"},
		{"a key that is a number", `{"key":7,"at":"2026-04-03T00:00:00Z","entry":"dam","dam":"Moss"}`, "key", "in quotes"},
		{"an empty name", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":""}`, "dam", "empty"},
		{"a null name", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":null}`, "dam", "neither a name nor a list"},
		{"an empty list of dams", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"looked","dam":[]}`, "dam", "empty list"},
		{"a dam twice in a list", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"looked","dam":["Moss","Moss"]}`, "dam", "twice"},
		{"a null in a list", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"looked","dam":["Moss",null]}`, "dam", "empty name"},
		{"two dams entered at once", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":["Moss","Fern"]}`, "dam", "an entry for each"},
		{"a name with a space at its end", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":"Moss "}`, "dam", "space"},
		{"a name over two lines", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":"Mo\nss"}`, "dam", "printed"},
		{"a name without end", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":"` + strings.Repeat("x", 201) + `"}`, "dam", "longer"},
		{"eggs in words", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"S2","eggs":"two","laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}`, "eggs", "whole number"},
		{"half an egg", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"S2","eggs":1.5,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}`, "eggs", "whole number"},
		{"no eggs", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"S2","eggs":0,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}`, "eggs", "at least one"},
		{"fewer than no eggs", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"S2","eggs":-2,"laid_after":"2026-04-01T00:00:00Z","laid_by":"2026-04-02T00:00:00Z"}`, "eggs", "1 to 1000"},
		{"laid after it was laid by", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"S2","eggs":2,"laid_after":"2026-04-02T00:00:00Z","laid_by":"2026-04-01T00:00:00Z"}`, "laid_after", "exchange"},
		{"found before it was laid", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"clutch","clutch":"S2","eggs":2,"laid_after":"2026-04-04T00:00:00Z","laid_by":"2026-04-05T00:00:00Z"}`, "laid_after", "later than the day the eggs were found"},
		{"an egg without a number", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"pipped","egg":"S1"}`, "egg", "names no egg"},
		{"an egg with a nought before", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"pipped","egg":"S1-01"}`, "egg", "names no egg"},
		{"a mass with its unit", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"weighed","box":"B1","total_g":"108 g"}`, "total_g", "no number"},
		{"a mass below nothing", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"watered","box":"B1","water_g":-4}`, "water_g", "no mass"},
		{"a mass in milligrams", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"weighed","box":"B1","total_g":108000}`, "total_g", "no mass"},
		{"a box moved nowhere", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"moved","box":"B1"}`, "zone", "missing"},
		{"an egg moved to no slot", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"moved","egg":"S1-1","box":"B1"}`, "slot", "missing"},
		{"an egg moved with a zone", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"moved","egg":"S1-1","box":"B1","slot":"a","zone":"room"}`, "zone", "does not belong"},
		{"a hatchling that sings", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"hatchling","egg":"S1-1","what":"sang"}`, "what", "shed, fed, weighed or died"},
		{"a weighing without a mass", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"hatchling","egg":"S1-1","what":"weighed"}`, "mass_g", "missing"},
		{"a void of itself", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"void","void":"n"}`, "void", "its own key"},
		{"a find that is a list", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"looked","found":[]}`, "found", "no text"},
		{"half a point", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"calibrated","probe":"p","points":[{"reference_c":0}]}`, "points", "point 1 has no pair"},
		{"a point in percent", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"calibrated","probe":"p","points":[{"reference_rh":75.3,"read_rh":77}]}`, "points", "point 1 has no pair"},
		{"a point of another kind", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"calibrated","probe":"p","points":[{"f":32}]}`, "points", "list of points"},
		{"no points", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"calibrated","probe":"p","points":[]}`, "points", "at least one"},
		{"a seq in words", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":"Moss","seq":"one"}`, "seq", "leave it out"},
		{"two objects", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam","dam":"Moss"}{}`, "", "nothing after it"},
		{"half an object", `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"dam"`, "", "broken JSON"},
		{"a list", `["key","n"]`, "", "no JSON object"},
		{"bytes that are no text", "{\"key\":\"\xff\"}", "", "UTF-8"},
	} {
		t.Run(c.fault, func(t *testing.T) {
			e, err := book.Parse([]byte(c.line))
			var f book.Faults
			if !errors.As(err, &f) {
				t.Fatalf("taken as %+v", e)
			}
			if len(f) != 1 || f[0].Field != c.field || !strings.Contains(f[0].Words, c.words) {
				t.Errorf("error is %v, want one about field %q that says %q", err, c.field, c.words)
			}
			if strings.Contains(c.line, `"key":"n"`) && f[0].Key != "n" {
				t.Errorf("error %v does not name the key", err)
			}
			if e.Key != "" || e.Kind != "" {
				t.Errorf("entry %+v came beside the error", e)
			}
		})
	}
}

func TestReadAllListsEveryBadLine(t *testing.T) {
	es, err := book.ReadAll(strings.NewReader("\ufeff" + `{"key":"n1","at":"2026-04-03T00:00:00Z","entry":"dam"}

{"key":"n2","at":"2026-04-03T00:00:00Z","entry":"dam","dam":"Moss"}
{"key":"n3","at":"soon","entry":"dam","dam":7}
`))
	var f book.Faults
	if !errors.As(err, &f) || es != nil {
		t.Fatalf("error is %v beside %v", err, es)
	}
	var got []string
	for _, one := range f {
		got = append(got, one.Key+" "+one.Field)
	}
	if f[0].Line != 1 || f[1].Line != 4 || !slices.Equal(got, []string{"n1 dam", "n3 at", "n3 dam"}) {
		t.Errorf("at fault: %v", err)
	}
}

// Texts that JSON may write in two ways come out in one.
func TestRoundTrip(t *testing.T) {
	for _, line := range []string{
		`{"key":"n","at":"2026-04-03T02:00:00.5+02:00","entry":"looked","dam":["Moss","Fern"],"found":"\u0041 & <B>"}`,
		`{"key":"n","at":"2026-04-03T00:00:00Z","entry":"looked","dam":["Moss"],"found":false}`,
		`{"key":"n","at":"2026-04-03T00:00:00Z","entry":"looked","found":2}`,
		`{"key":"n","at":"2026-04-03T00:00:00Z","entry":"box","box":"B","zone":"z","water_g":0,"dry_g":1e2}`,
		`{"key":"n","at":"2026-04-03T00:00:00Z","entry":"calibrated","probe":"p","from":"2026-04-01T00:00:00Z","points":[{"read_c":0.2,"reference_c":0}, {"reference_rh":0.753,"read_rh":0.77}]}`,
		`{"key":"n","at":"2026-04-03T00:00:00Z","entry":"note","text":"a\nb\u2028","seq":7,"recorded":"2026-04-03T00:00:01Z"}`,
	} {
		twice(t, []byte(line))
	}
}

func twice(t *testing.T, line []byte) {
	t.Helper()
	e, err := book.Parse(line)
	if err != nil {
		t.Fatalf("cannot parse %s: %v", line, err)
	}
	once, err := e.MarshalJSON()
	if err != nil {
		t.Fatalf("cannot write what %s says: %v", line, err)
	}
	again, err := book.Parse(once)
	if err != nil {
		t.Fatalf("cannot parse what was written, %s: %v", once, err)
	}
	b, err := again.MarshalJSON()
	if err != nil || string(b) != string(once) {
		t.Errorf("bytes changed (error %v):\n%s\n%s", err, once, b)
	}
	if !e.Same(again) {
		t.Errorf("%s is not the same entry as %s", once, line)
	}
	if err := e.Check(); err != nil {
		t.Errorf("parsed, yet found bad: %v", err)
	}
}

func FuzzParse(f *testing.F) {
	for line := range strings.Lines(season + base) {
		f.Add([]byte(line))
	}
	f.Add([]byte(`{"key":"n","at":"2026-04-03T00:00:00Z","entry":"looked","dam":["Moss"],"found":2}`))
	f.Add([]byte(`{"key":"n","at":"2026-04-03T00:00:00Z","entry":"calibrated","probe":"p","points":[{"reference_rh":0.753,"read_rh":0.77}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		if _, err := book.Parse(b); err == nil {
			twice(t, b)
		}
	})
}

// Any file either is a book or has its faults listed.
func FuzzRead(f *testing.F) {
	f.Add([]byte(season))
	f.Add([]byte(base))
	f.Fuzz(func(t *testing.T, b []byte) {
		k, fresh, err := read(book.Book{}, string(b))
		if err != nil {
			var f book.Faults
			if !errors.As(err, &f) || len(f) == 0 {
				t.Fatalf("error %v lists nothing", err)
			}
			return
		}
		again, err := book.Fold(fresh)
		if err != nil {
			t.Fatalf("read, yet not folded: %v", err)
		}
		sameBook(t, k, again)
	})
}
