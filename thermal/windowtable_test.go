package thermal

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write testdata/window-table.txt again")

// windowTable is the figures of beliefs, windows and climates in cases that each constant
// of the model decides something in.
type windowTable struct {
	names []string
	rows  [][]float64
}

func (w *windowTable) add(name string, figures ...float64) {
	w.names, w.rows = append(w.names, name), append(w.rows, figures)
}

// belief adds what is expected at four temperatures, in days, with 80 % between two.
func (w *windowTable) belief(name string, b Belief) {
	var all []float64
	for _, celsius := range []float64{16, 20, 23.3, 26} {
		low, middle, high := b.Interval(celsius)
		all = append(all, low, middle, high)
	}
	w.add(name, all...)
}

// window adds a window's days since laying, and the share of the way.
func (w *windowTable) window(name string, x Window) {
	if !x.Exists() {
		w.add(name)
		return
	}
	w.add(name, daysTo(x.CheckFrom), daysTo(x.Likely), daysTo(x.High80), daysTo(x.LateAfter), x.Developed, x.DevelopedLow, x.DevelopedHigh)
}

func (w *windowTable) climate(t *testing.T, name string, h ZoneHistory, setPoint, usual float64) {
	t.Helper()
	c := climateOf(t, h, setPoint, usual)
	all := []float64{c.Mean, c.SD, c.DailyRange, float64(len(c.Days))}
	for _, d := range []int{1, 20, 60, 110} {
		if d <= len(c.Days) {
			all = append(all, c.Days[d-1])
		}
	}
	w.add(name, all...)
}

func (w *windowTable) beliefs() {
	prior := Prior(23.3, math.Log(80), 0.334, 0.110, 0.021)
	w.belief("a prior", prior)
	w.belief("a prior, as a line", prior.AsLine())
	point := func(days, celsius float64) Observed { return Observed{Days: days, Celsius: celsius} }
	w.belief("common practice", gecko())
	w.belief("a published point", prior.Learn(point(95, 24)))
	w.belief("a published point, as a line", prior.AsLine().Learn(point(95, 21)))
	w.belief("a published point, below the line's base", prior.AsLine().Learn(point(300, 11)))
	w.belief("a study of three", prior.Study([]Observed{point(120, 21), point(95, 23.5), point(80, 26)}))
	w.belief("a point far off", prior.Learn(point(95, 24)).Learn(point(240, 24)))
	w.belief("points where the curve bends", prior.Learn(point(210, 17)).Learn(point(160, 18)).Learn(point(90, 28)))
	w.belief("points that forbid a slope", prior.Learn(point(60, 18)).Learn(point(70, 20)).Learn(point(120, 28)).Learn(point(125, 29)))
	w.belief("points of a straight curve", Prior(23.3, math.Log(80), 0.334, 0.110, 0.2).Learn(point(100, 16)).Learn(point(80, 23)).Learn(point(40, 30)).Learn(point(25, 36)))
	growing := Prior(23.3, math.Log(80), 0.334, 0.3, 0.3) // ever faster: the bend would turn round
	for range 8 {
		growing = growing.Learn(point(300, 16)).Learn(point(80, 23.3)).Learn(point(18, 28)).Learn(point(3, 33))
	}
	w.belief("points of a curve that bends up", growing)
	w.belief("a slope below the least", Prior(23.3, math.Log(80), 0.334, 0.001, 0.021))
	w.belief("a daily course", prior.Learn(Observed{Days: 95, Celsius: 21, DailyRange: 14}))
	own := gecko()
	for i, o := range []Observed{
		{Days: 92, Celsius: 23.3, Own: true, Eggs: 1},
		{Days: 96, Celsius: 23.8, Own: true, SameDam: true, Eggs: 2, DaysOff: 4},
		{Days: 110, Celsius: 22.1, Own: true, SameDam: true, Eggs: 1, SD: 3},
		{Days: 140, Celsius: 23.3, Own: true, Eggs: 2},
	} {
		own = own.Learn(o)
		w.belief(fmt.Sprintf("%d own hatches", i+1), own)
	}
}

func (w *windowTable) windows() {
	b := gecko()
	for _, celsius := range []float64{19, 23.37, 26} {
		for _, days := range []float64{0, 40, 75} {
			w.window(fmt.Sprintf("%g C for %g days", celsius, days), windowOf(exactly(felt(celsius, days)), b, Steady(celsius, 0.8), day(days)))
		}
	}
	for _, celsius := range []float64{14, 13, 12, 11.5, 11, 10.5, 10} { // a hatch in years, and none that is sought
		w.window(fmt.Sprintf("a cold room of %g C", celsius), windowOf(exactly(felt(celsius, 10)), b, Steady(celsius, 0.2), day(10)))
	}
	for _, after := range []float64{95, 130, 160, 190, 230} {
		w.window(fmt.Sprintf("no hatch for %g days", after), windowOf(exactly(felt(23.3, after)), b, Steady(23.3, 0.5), day(after)))
	}
	for _, interval := range []float64{2, 7, 15, 40} {
		h := Heat{Laid: Laid{day(-interval), start}, Since: felt(23.3, 30), Before: felt(23.3, interval)}
		w.window(fmt.Sprintf("laid within %g days", interval), windowOf(h, b, Steady(23.3, 0.5), day(30)))
	}
	for _, hours := range []float64{1, 8, 30, 90} {
		x := felt(23.3, 20).Gap(Gap{From: day(20), To: day(20 + hours/24), Before: 23.3, After: 22}).Plus(felt(22, 10))
		share, low, high := x.Bridged(b.Rate())
		w.add(fmt.Sprintf("a gap of %g hours", hours), share, low, high)
	}
	x := Exposure{}.Gap(Gap{From: start, To: day(3), Before: math.NaN(), After: math.NaN()}).Plus(felt(23, 10))
	share, low, high := x.Bridged(b.Rate())
	w.add("a gap of no known side", share, low, high)
	for _, celsius := range []float64{-80, -45, -30, 23.37, 45, 65, 130} {
		w.add(fmt.Sprintf("felt %g C", celsius), felt(celsius, 1).Mean())
	}
	h := exactly(felt(21, 40))
	h.ProbeSD = 0.5
	climate := Climate{Mean: 22, SD: 1, DailyRange: 7, Days: []float64{20, 20.5, 21, 21.5, 22, 23, 24}}
	w.window("a swinging climate", windowOf(h, b, climate, day(40)))
	w.window("a swinging climate, as a line", windowOf(h, b.AsLine(), climate, day(40)))
}

func (w *windowTable) climates(t *testing.T) {
	none := math.NaN()
	w.climate(t, "two days and a set point", zone(2, steadyAt(26)), 23, none)
	w.climate(t, "two days and what is usual", zone(2, steadyAt(26)), none, 23.3)
	w.climate(t, "a steady zone", zone(200, steadyAt(23)), none, none)
	w.climate(t, "a steady zone with a set point", zone(30, steadyAt(23)), 23, none)
	w.climate(t, "years of a steady zone", zone(1200, steadyAt(23)), none, none)
	wander := func(d int) float64 { return 23 + 2*math.Sin(float64(d)/9) + 0.5*math.Sin(float64(d)*1.7) }
	w.climate(t, "forty years of a steady zone", zone(40*365, steadyAt(23)), 23, none)
	w.climate(t, "a wandering zone", zone(140, wander), none, none)
	w.climate(t, "a wandering zone with a set point", zone(40, wander), 23, none)
	w.climate(t, "two days of a season", zone(2, wander), none, none)
	season := func(d int) float64 {
		v := 22 + 3*math.Sin(2*math.Pi*float64(d)/365.2425) + 0.3*math.Sin(float64(d)*1.3)
		if d > -20 {
			v += 1.5
		}
		return v
	}
	w.climate(t, "a second year", zone(500, season), none, 23.3)
	w.climate(t, "a fourth year", zone(1200, season), none, 23.3)
	w.climate(t, "a fourth year with a set point", zone(1200, season), 23, none)
}

// Beliefs, windows and climates are as the table says. Each constant of the model changes
// it when it is halved or doubled. A change that is meant writes the table again with
// -update, beside what `go test -v ./thermal/backtest` prints before and after it.
func TestWindowTable(t *testing.T) {
	const file = "testdata/window-table.txt"
	w := &windowTable{}
	w.beliefs()
	w.windows()
	w.climates(t)
	if *update {
		var text strings.Builder
		text.WriteString("# case; beliefs: 80 % interval and middle at 16, 20, 23.3 and 26 C (d); windows: check from, likely, 90 %, late after (d), developed with its 80 % interval; climates: mean, SD (K), daily range, days told, days 1, 20, 60, 110 (C)\n")
		for i, name := range w.names {
			text.WriteString(name)
			for _, v := range w.rows[i] {
				fmt.Fprintf(&text, "; %.6g", v)
			}
			text.WriteByte('\n')
		}
		if err := os.WriteFile(file, []byte(text.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	want := strings.Split(strings.TrimSpace(string(b)), "\n")[1:]
	if len(want) != len(w.rows) {
		t.Fatalf("%d rows, want %d", len(w.rows), len(want))
	}
	for i, line := range want {
		cells := strings.Split(line, "; ")
		if cells[0] != w.names[i] || len(cells) != len(w.rows[i])+1 {
			t.Errorf("%s has the figures %v, want %s", w.names[i], w.rows[i], line)
			continue
		}
		for j, v := range w.rows[i] {
			x, err := strconv.ParseFloat(cells[j+1], 64)
			if err != nil {
				t.Fatal(err)
			}
			// What is printed; a window is found to a minute.
			if !(math.Abs(v-x) <= 1e-5*math.Abs(x)+1e-5 || math.IsNaN(v) && math.IsNaN(x)) {
				t.Errorf("%s, figure %d: %.6g, want %s", w.names[i], j+1, v, cells[j+1])
			}
		}
	}
}
