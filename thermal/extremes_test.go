package thermal

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
)

// All twelve published columns of a year of daily extremes.
func TestDailyExtremesAsPublished(t *testing.T) {
	f, err := os.Open("../testdata/degree-days/daily-degree-days.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	number := func(row int, name string) float64 {
		i, ok := column[name]
		if !ok {
			t.Fatalf("no column %s", name)
		}
		v, err := strconv.ParseFloat(rows[row][i], 64)
		if err != nil {
			t.Fatalf("line %d, %s: %v", row+1, name, err)
		}
		return v
	}
	var days []Extremes
	for i := 1; i < len(rows); i++ {
		days = append(days, Extremes{number(i, "tmin"), number(i, "tmax")})
	}
	for name, m := range map[string]Method{
		"sngsine_horiz": {Sine, false, Horizontal}, "sngsine_vert": {Sine, false, Vertical}, "sngsine_intrmd": {Sine, false, Intermediate},
		"dblsine_horiz": {Sine, true, Horizontal}, "dblsine_vert": {Sine, true, Vertical}, "dblsine_intrmd": {Sine, true, Intermediate},
		"sngtri_horiz": {Triangle, false, Horizontal}, "sngtri_vert": {Triangle, false, Vertical}, "sngtri_intrmd": {Triangle, false, Intermediate},
		"dbltri_horiz": {Triangle, true, Horizontal}, "dbltri_vert": {Triangle, true, Vertical}, "dbltri_intrmd": {Triangle, true, Intermediate},
	} {
		worst, at := 0.0, 0
		for i, v := range m.DegreeDays(days, 50, 70) {
			if off := math.Abs(v - number(i+1, name)); !(off <= worst) {
				worst, at = off, i
			}
		}
		t.Logf("%-15s at most %.4f off", name, worst)
		if !(worst <= 0.006) {
			t.Errorf("%s is %.3f off on line %d, want at most 0.006", name, worst, at+2)
		}
	}
}

// A day without numbers, or thresholds the wrong way round, has no degree-days.
func TestDailyExtremesOfNoNumbers(t *testing.T) {
	m := Method{Double: true}
	got := m.DegreeDays([]Extremes{{10, 20}, {math.NaN(), 20}, {10, 20}}, 12, 18)
	if math.IsNaN(got[0]) || !math.IsNaN(got[1]) || math.IsNaN(got[2]) {
		t.Errorf("got %v, want the middle day alone without a number", got)
	}
	if got := m.DegreeDays([]Extremes{{10, 20}}, 18, 12); !math.IsNaN(got[0]) {
		t.Errorf("thresholds the wrong way round gave %v", got)
	}
}
