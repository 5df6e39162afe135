package backtest_test

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"example.com/ootherm/thermal/backtest"
)

const header = "study,order,family,species,temperature_c,daily_range_c,duration_days,sd_days,n\n"

// A bad cell is named by its line and column, and no rows come beside the error.
func TestReadRowsNamesLineAndColumn(t *testing.T) {
	good := "1,Squamata,Agamidae,A b,28,0,60,,12\n"
	for _, c := range []struct{ table, says string }{
		{"", "empty"},
		{"study,species\n", `column "order" is missing`},
		{header + good + "1,Squamata,Agamidae,A b,warm,0,60,,12\n", `line 3, column 25 (temperature_c): "warm" is not a number`},
		{header + good + "1,Squamata,Agamidae,A b,28,0,-3,,12\n", "line 3, column 30 (duration_days): -3 is not within"},
		{header + "1,Squamata,Agamidae,,28,0,60,,12\n", "line 2, column 21 (species): is empty"},
		{header + "1,Squamata,Agamidae,A b,NaN,0,60,,12\n", "(temperature_c): NaN is not within"},
		{header + "1,Squamata\n", "line 2"},
		{header + "1,\"Squamata\n", "line"},
	} {
		rows, err := backtest.ReadRows(strings.NewReader(c.table))
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q: %v, want %q", c.table, err, c.says)
		}
		if rows != nil {
			t.Errorf("%q: %d rows beside an error", c.table, len(rows))
		}
	}
	rows, err := backtest.ReadRows(strings.NewReader("\ufeff" + header + good))
	if err != nil || len(rows) != 1 {
		t.Fatalf("%v, %v", rows, err)
	}
	want := backtest.Row{Study: "1", Order: "Squamata", Family: "Agamidae", Species: "A b", Celsius: 28, Days: 60, Eggs: 12}
	if rows[0] != want {
		t.Errorf("got %+v, want %+v", rows[0], want)
	}
}

// A row's own duration has no part in its prediction: with another one it is
// predicted the same.
func TestScoreNeverSeesTheRow(t *testing.T) {
	rows := readRows(t)[:60]
	before, err := backtest.Score(rows, "")
	if err != nil {
		t.Fatal(err)
	}
	const i = 17
	changed := slices.Clone(rows)
	changed[i].Days *= 3
	after, err := backtest.Score(changed, "")
	if err != nil {
		t.Fatal(err)
	}
	seen := 0
	for k, p := range before.Rows {
		if p.Species == rows[i].Species && p.Study == rows[i].Study && p.Celsius == rows[i].Celsius && p.Actual == rows[i].Days {
			seen++
			if q := after.Rows[k]; q.Predicted != p.Predicted || q.Low80 != p.Low80 || q.Actual != 3*p.Actual {
				t.Errorf("%s was predicted %.2f, and %.2f once it took three times as long", p.Protocol, p.Predicted, q.Predicted)
			}
		}
	}
	if seen < 3 {
		t.Errorf("%d predictions of the row, want one a protocol", seen)
	}
}

// Ties of the nearest temperature share one row's weight; rows of the row's own
// temperature teach nothing; a species of one temperature is left out.
func TestScoreTiesAndSpeciesOfOneTemperature(t *testing.T) {
	row := func(species string, celsius, days float64) backtest.Row {
		return backtest.Row{Study: "1", Order: "Squamata", Family: "Agamidae", Species: species, Celsius: celsius, Days: days}
	}
	r, err := backtest.Score([]backtest.Row{row("A b", 26, 70), row("A b", 28, 60), row("A b", 30, 52), row("A b", 28, 61), row("C d", 28, 60)}, "")
	if err != nil {
		t.Fatal(err)
	}
	weights := map[float64][]float64{}
	for _, p := range r.Rows {
		if p.Species == "C d" {
			t.Errorf("a species of one temperature was predicted: %+v", p)
		}
		if p.Protocol == backtest.KnowingOne {
			weights[p.Actual] = append(weights[p.Actual], p.Weight)
		}
	}
	want := map[float64][]float64{70: {0.5, 0.5}, 60: {0.5, 0.5}, 52: {0.5, 0.5}, 61: {0.5, 0.5}}
	if !reflect.DeepEqual(weights, want) {
		t.Errorf("weights of the ties by row: %v, want %v", weights, want)
	}
	for name, s := range r.Protocols {
		if s.N != 4 {
			t.Errorf("%s: %d rows, want 4", name, s.N)
		}
	}
}

func TestScoreRefusesAModelItDoesNotKnow(t *testing.T) {
	if r, err := backtest.Score(readRows(t)[:5], "magic"); err == nil || r.Rows != nil {
		t.Errorf("%v beside %d rows", err, len(r.Rows))
	}
}

// The names that programs read, and that nothing of no rows is a number.
func TestScoreJSON(t *testing.T) {
	r, err := backtest.Score(readRows(t)[:3], "curve")
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var got struct {
		Protocols map[string]map[string]float64
		Clades    map[string]map[string]map[string]float64
		Rows      []map[string]any
	}
	if err := json.Unmarshal(b, &got); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"family", "one", "rest"} {
		for _, key := range []string{"n", "median_ape", "mape", "within_80", "width_80", "log_score", "early_10", "late_10"} {
			for _, s := range []map[string]float64{got.Protocols[name], got.Clades["other squamates"][name]} {
				if _, ok := s[key]; !ok || len(s) != 8 {
					t.Errorf("%s: %v", name, s)
				}
			}
		}
	}
	for _, key := range []string{"species", "clade", "study", "temperature_c", "protocol", "weight", "predicted_days", "low_80", "high_80", "actual_days", "pit", "log_score"} {
		if _, ok := got.Rows[0][key]; !ok || len(got.Rows[0]) != 12 {
			t.Errorf("row: %v", got.Rows[0])
		}
	}
	empty, err := backtest.Score(nil, "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := json.Marshal(empty); err != nil || empty.Rows == nil {
		t.Errorf("nothing scored: %v, %v", empty, err)
	}
}

// The drawing is one of every row, whatever a species is called.
func TestWriteSVG(t *testing.T) {
	rows := readRows(t)[:40]
	for i := range rows {
		rows[i].Species += ` <&" i>`
	}
	r, err := backtest.Score(rows, "")
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := backtest.WriteSVG(&b, r); err != nil {
		t.Fatal(err)
	}
	circles := 0
	d := xml.NewDecoder(&b)
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if e, ok := token.(xml.StartElement); ok && e.Name.Local == "circle" {
			circles++
			for _, a := range e.Attr {
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Errorf("%s is %s", a.Name.Local, a.Value)
				}
			}
		}
	}
	if circles != len(r.Rows) {
		t.Errorf("%d points of %d rows", circles, len(r.Rows))
	}
	if err := backtest.WriteSVG(full{}, r); err == nil || !strings.Contains(err.Error(), "drawing") {
		t.Errorf("a full disk gave %v", err)
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no space left") }

func FuzzReadRows(f *testing.F) {
	f.Add(header + "1,Squamata,Agamidae,A b,28,0,60,,12\n1,Squamata,Agamidae,A b,30,2,50,1,\n")
	f.Fuzz(func(t *testing.T, table string) {
		rows, err := backtest.ReadRows(strings.NewReader(table))
		if err != nil {
			return
		}
		r, err := backtest.Score(rows, "")
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range r.Rows {
			if math.IsNaN(p.Predicted) || !(p.Low80 <= p.Predicted && p.Predicted <= p.High80) {
				t.Fatalf("%+v", p)
			}
		}
	})
}
