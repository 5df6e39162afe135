package hindcast_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/hindcast"
	"example.com/ootherm/thermal/profile"
)

var laid = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

type nest struct {
	name    string
	samples []thermal.Sample
}

func (n nest) days() float64 { return n.samples[len(n.samples)-1].At.Sub(laid).Hours() / 24 }

// until is what the nest felt in a span of days.
func (n nest) felt(from, to float64) thermal.Exposure {
	var x thermal.Exposure
	for i := 1; i < len(n.samples); i++ {
		if at := n.samples[i].At.Sub(laid).Hours() / 24; at > from && at <= to {
			x.Add(n.samples[i-1], n.samples[i])
		}
	}
	return x
}

func readNests(t *testing.T) []nest {
	t.Helper()
	f, err := os.Open("../../testdata/nests/nest-temperatures.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var nests []nest
	for _, row := range rows[1:] {
		minutes, err := strconv.Atoi(row[1])
		if err != nil {
			t.Fatal(err)
		}
		celsius, err := strconv.ParseFloat(row[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		if len(nests) == 0 || nests[len(nests)-1].name != row[0] {
			nests = append(nests, nest{name: row[0]})
		}
		n := &nests[len(nests)-1]
		n.samples = append(n.samples, thermal.Sample{At: laid.Add(time.Duration(minutes) * time.Minute), Celsius: celsius})
	}
	return nests
}

func readRows(t testing.TB) []hindcast.Row {
	t.Helper()
	f, err := os.Open("../../testdata/incubation/durations.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := hindcast.ReadRows(f)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// published is a profile from a species' published references alone.
func published(t *testing.T, species string) profile.Profile {
	t.Helper()
	p := profile.Profile{Name: species, Species: species}
	low, high := math.Inf(1), math.Inf(-1)
	for _, r := range readRows(t) {
		if r.Species == species {
			p.Order, p.Family = r.Order, r.Family
			low, high = math.Min(low, r.Celsius), math.Max(high, r.Celsius)
			p.References = append(p.References, profile.Reference{
				Celsius: r.Celsius, DailyRange: r.DailyRange, Days: r.Days, SD: r.SD, N: r.Eggs,
				Study: r.Study, Source: "study " + r.Study,
			})
		}
	}
	p.Usual = (low + high) / 2
	return p
}

// The 11 recorded nests, by what others published of their species: how many
// days off is the likely day, on the way.
func TestNestsByPublishedReferences(t *testing.T) {
	nests := readNests(t)
	belief, err := published(t, "Caretta caretta").Belief()
	if err != nil {
		t.Fatal(err)
	}
	var calendar float64
	for i, n := range nests {
		var others float64
		for j, o := range nests {
			if i != j {
				others += o.days() / float64(len(nests)-1)
			}
		}
		calendar += math.Abs(others-n.days()) / float64(len(nests))
	}
	t.Logf("%8s %8s %8s %10s", "way", "curve", "line", "calendar")
	for _, want := range []struct{ way, off float64 }{{0.5, 4.9}, {0.75, 2.6}, {0.9, 2.1}} {
		var curve, line float64
		for _, n := range nests {
			day := want.way * n.days()
			now := laid.Add(time.Duration(day * 24 * float64(time.Hour)))
			heat := thermal.Heat{Laid: thermal.Laid{Earliest: laid, Latest: laid}, Since: n.felt(0, day)}
			week := thermal.Steady(n.felt(day-7, day).Equivalent(belief.Rate()), 1)
			off := func(w thermal.Window) float64 {
				return math.Abs(w.Likely.Sub(laid).Hours()/24-n.days()) / float64(len(nests))
			}
			curve += off(thermal.Project(heat, belief, week, now))
			line += off(thermal.ProjectLine(heat, belief, week, now))
		}
		t.Logf("%7.0f%% %8.2f %8.2f %10.2f", 100*want.way, curve, line, calendar)
		if curve > want.off+0.05 {
			t.Errorf("at %.0f %% of the way the curve is %.2f days off, want at most %.1f", 100*want.way, curve, want.off)
		}
	}
	if math.Abs(calendar-5.4) > 0.05 {
		t.Errorf("the calendar mean is %.2f days off, known to be 5.4", calendar)
	}
}
