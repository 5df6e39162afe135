package backtest_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/backtest"
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

func readRows(t testing.TB) []backtest.Row {
	t.Helper()
	f, err := os.Open("../../testdata/incubation/durations.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := backtest.ReadRows(f)
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

// day is when a nest is so many days old.
func day(days float64) time.Time { return laid.Add(time.Duration(days * 24 * float64(time.Hour))) }

// history is what a nest did in its first days, as days of a zone, so many years
// before.
func (n nest) history(until float64, years int) thermal.ZoneHistory {
	var h thermal.ZoneHistory
	for d := 0; float64(d+1) <= until; d++ {
		low, high := math.Inf(1), math.Inf(-1)
		for _, s := range n.samples {
			if at := s.At.Sub(laid).Hours() / 24; at >= float64(d) && at < float64(d+1) {
				low, high = math.Min(low, s.Celsius), math.Max(high, s.Celsius)
			}
		}
		start := day(float64(d - int(math.Round(float64(years)*365.2425))))
		h = append(h, thermal.Day{Start: start, Mean: n.felt(float64(d), float64(d+1)).Mean(), Range: high - low})
	}
	return h
}

// The 11 recorded nests, by what others published of their species: how many
// days off is the likely day on the way, with the last week as what is to come,
// and with the course of the other nests as the seasons before.
func TestNestsByPublishedReferences(t *testing.T) {
	nests := readNests(t)
	belief, err := published(t, "Caretta caretta").Belief()
	if err != nil {
		t.Fatal(err)
	}
	count := float64(len(nests))
	var calendar float64
	for i, n := range nests {
		var others float64
		for j, o := range nests {
			if i != j {
				others += o.days() / (count - 1)
			}
		}
		calendar += math.Abs(others-n.days()) / count
	}
	if math.Abs(calendar-5.4) > 0.05 {
		t.Errorf("the calendar mean is %.2f days off, known to be 5.4", calendar)
	}
	t.Logf("%5s | %-23s | %-23s | %-23s | calendar", "", "the last week", "the nest's own days", "the other nests' course")
	columns := fmt.Sprintf("%5s %5s %5s %5s", "curve", "line", "in 80", "wide")
	t.Logf("%5s | %s | %s | %s |", "way", columns, columns, columns)
	type figures struct{ curve, line, inside, width float64 }
	const week, own, course = 0, 1, 2
	var inside [3]float64
	for _, want := range []struct {
		way float64
		off [3]float64 // most days, of the curve
	}{
		{0.25, [3]float64{math.Inf(1), 11, 3}}, {0.5, [3]float64{4.9, 4.5, 3}},
		{0.75, [3]float64{2.6, 2.7, 2.6}}, {0.9, [3]float64{2.1, 2.1, 2.1}},
	} {
		var got [3]figures
		for i, n := range nests {
			age := want.way * n.days()
			heat := thermal.Heat{Laid: thermal.Laid{Earliest: laid, Latest: laid}, Since: n.felt(0, age)}
			history := n.history(age, 0)
			alone, ok := history.Climate(math.NaN(), belief.Usual, day(age))
			if !ok {
				t.Fatalf("%s has no climate", n.name)
			}
			for j, o := range nests {
				if j != i {
					history = append(history, o.history(o.days(), 1+(j+len(nests)-i)%len(nests))...)
				}
			}
			seasons, ok := history.Climate(math.NaN(), belief.Usual, day(age))
			if !ok {
				t.Fatalf("%s has no climate by the others", n.name)
			}
			for k, c := range [3]thermal.Climate{thermal.Steady(n.felt(age-7, age).Mean(), 1), alone, seasons} {
				w := c.Outlook(belief, day(age)).Window(heat)
				line := c.Outlook(belief.AsLine(), day(age)).Window(heat)
				hatch := day(n.days())
				got[k].curve += math.Abs(w.Likely.Sub(hatch).Hours()) / 24 / count
				got[k].line += math.Abs(line.Likely.Sub(hatch).Hours()) / 24 / count
				got[k].width += w.High80.Sub(w.Low80).Hours() / 24 / count
				if !hatch.Before(w.Low80) && !hatch.After(w.High80) {
					got[k].inside += 1 / count
				}
			}
		}
		var row strings.Builder
		for k, g := range got {
			fmt.Fprintf(&row, " | %5.2f %5.2f %4.0f%% %5.1f", g.curve, g.line, 100*g.inside, g.width)
			if g.curve > want.off[k]+0.05 {
				t.Errorf("at %.0f %% of the way column %d is %.2f days off, want at most %.1f", 100*want.way, k+1, g.curve, want.off[k])
			}
			inside[k] += g.inside / 4
		}
		t.Logf("%4.0f%%%s | %8.2f", 100*want.way, row.String(), calendar)
		if want.way == 0.5 && got[course].curve >= got[week].curve {
			t.Errorf("half way the others' course is no better than the last week: %.2f and %.2f days off", got[course].curve, got[week].curve)
		}
	}
	t.Logf("inside the 80 %% window, all the way: %.0f, %.0f and %.0f %%", 100*inside[week], 100*inside[own], 100*inside[course])
	for _, k := range []int{week, own} {
		if inside[k] < 0.70 || inside[k] > 0.95 {
			t.Errorf("80 %% windows of column %d hold %.0f %% of the hatches, want 70 to 95", k+1, 100*inside[k])
		}
	}
}
