package bookfile_test

import (
	"encoding/csv"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/bookfile"
	"example.com/ootherm/thermal/book/booktest"
)

// LibreOffice takes ISO 8601 with a T for a time, whichever options it opens the table with, and
// RFC 3339 for text: the zone has a column of its own.
func TestWriteCSV(t *testing.T) {
	place := time.FixedZone("two hours east", 2*60*60)
	var out strings.Builder
	e := booktest.Read(t, `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"note","about":"=1+1","text":"+a, \"b\"\nc","seq":7}
{"key":"-m","at":"2026-04-03T00:00:00Z","entry":"looked","dam":["@Moss","Fern"],"found":false}`)
	if err := bookfile.WriteCSV(&out, slices.Values(e), place); err != nil {
		t.Fatal(err)
	}
	_, rows, _ := strings.Cut(out.String(), "\r\n")
	want := "n,2026-04-03T02:00:00,note,,,,,,,,,,,,,,,,,,,,,,,,,,'=1+1,\"'+a, \"\"b\"\"\r\nc\",7,,,UTC+02:00\r\n" +
		"'-m,2026-04-03T02:00:00,looked,,,,'@Moss; Fern,,,,,,false,,,,,,,,,,,,,,,,,,,,,UTC+02:00\r\n"
	if rows != want {
		t.Errorf("rows are\n%q, want\n%q", rows, want)
	}
}

// full is an entry that has every field.
func full() book.Entry {
	number, at := 1.5, time.Date(2026, 4, 3, 0, 0, 0, 0, time.UTC)
	var e book.Entry
	fields := reflect.ValueOf(&e).Elem()
	for i := range fields.NumField() {
		switch v := fields.Field(i).Addr().Interface().(type) {
		case *[]book.Point:
			*v = []book.Point{{ReferenceC: &number, ReadC: &number}}
		case *book.Names:
			*v = book.Names{"Moss", "Fern"}
		case **float64:
			*v = &number
		case *time.Time:
			*v = at
		case *int:
			*v = 3
		case *uint64:
			*v = 4
		default:
			fields.Field(i).SetString("x")
		}
	}
	return e
}

// Every field of an entry has a column and a cell.
func TestEveryFieldIsInTheTable(t *testing.T) {
	var out strings.Builder
	if err := bookfile.WriteCSV(&out, slices.Values([]book.Entry{full()}), time.UTC); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(strings.NewReader(out.String())).ReadAll()
	if err != nil || len(rows) != 2 {
		t.Fatalf("%d rows, error %v", len(rows), err)
	}
	got := map[string]int{}
	for i, name := range rows[0] {
		if name == "" || rows[1][i] == "" {
			t.Errorf("column %d, %q, has the cell %q", i, name, rows[1][i])
		}
		got[rows[1][i]]++
	}
	want := map[string]int{"x": 0, "3": 1, "4": 1, "1.5": 5, "Moss; Fern": 1, "2026-04-03T00:00:00": 5, "UTC+00:00": 1, `[{"reference_c":1.5,"read_c":1.5}]`: 1}
	want["x"] = len(rows[0]) - 15
	if !reflect.DeepEqual(got, want) {
		t.Errorf("cells are %v, want %v", got, want)
	}
}

// The table's writer drops a carriage return: its lines end with one.
func TestFormulas(t *testing.T) {
	for _, c := range [][2]string{{"=a", "'=a"}, {"+a", "'+a"}, {"-a", "'-a"}, {"@a", "'@a"}, {"\ta", "'\ta"}, {"\ra", "'a"}, {"a=", "a="}, {"'a", "'a"}} {
		var out strings.Builder
		if err := bookfile.WriteCSV(&out, slices.Values([]book.Entry{{Key: c[0]}}), time.UTC); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(strings.NewReader(out.String())).ReadAll()
		if err != nil || rows[1][0] != c[1] {
			t.Errorf("cell %q became %q, want %q; error %v", c[0], rows[1][0], c[1], err)
		}
	}
}

// WriteJSON writes what ReadAll reads.
func TestWriteJSON(t *testing.T) {
	entries := booktest.Read(t, `{"key":"n","at":"2026-04-03T00:00:00Z","entry":"note","text":"a <b>","seq":7}
{"key":"m","at":"2026-04-03T00:00:00Z","entry":"calibrated","probe":"p","points":[{"reference_c":0,"read_c":0.2}]}`)
	var out strings.Builder
	if err := bookfile.WriteJSON(&out, slices.Values(entries)); err != nil {
		t.Fatal(err)
	}
	if again := booktest.Read(t, out.String()); !reflect.DeepEqual(again, entries) {
		t.Errorf("read back:\n%+v\nwant\n%+v", again, entries)
	}
}

type fullDisk struct{}

func (fullDisk) Write([]byte) (int, error) { return 0, errors.New("no space left") }

func TestExportThatFails(t *testing.T) {
	es := slices.Values(booktest.Read(t, strings.Repeat(`{"key":"n","at":"2026-04-03T00:00:00Z","entry":"calibrated","probe":"p","points":[{"reference_c":0,"read_c":0.2}]}`+"\n", 100)))
	for what, err := range map[string]error{"JSON": bookfile.WriteJSON(fullDisk{}, es), "CSV": bookfile.WriteCSV(fullDisk{}, es, time.UTC)} {
		if err == nil || !strings.Contains(err.Error(), "export: no space left") {
			t.Errorf("%s: error is %v", what, err)
		}
	}
}
