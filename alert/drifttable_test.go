package alert

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "write testdata/drift-table.txt again")

// driftCourse is a course of temperatures at which a drift is computed.
type driftCourse struct {
	name   string
	days   int
	every  time.Duration
	wander float64                    // K; uniform noise, either way
	at     func(hour float64) float64 // C
	limits []float64
}

// plateau is one from an hour to another, with an hour's slope on either side.
func plateau(h, from, to float64) float64 {
	return min(1, max(0, h-from)) * min(1, max(0, to-h))
}

// fall is how far the value has fallen: it approaches a depth from an hour on, with a time
// constant in hours, and is back after the last hour.
func fall(h, from, to, depth, constant float64) float64 {
	if h < from || h > to {
		return 0
	}
	return -depth * (1 - math.Exp(-(h-from)/constant))
}

func dayWave(h float64) float64             { return math.Sin(2 * math.Pi * h / 24) }
func heaterWave(h, minutes float64) float64 { return math.Sin(2 * math.Pi * h * 60 / minutes) }

// driftCourses have each constant of the drift alarm decide something: a slow and a fast
// fall, a thermostat just looked at and one just not, polls far apart, a first day, a limit
// passed, a hot day and the way back from it.
var driftCourses = []driftCourse{
	{"quiet room", 24, 75 * time.Second, 0.01, func(h float64) float64 { return 24 + fall(h, 500, 520, 1.5, 3) }, []float64{22.4, 23, 23.4}},
	{"falls in a room with days", 32, 75 * time.Second, 0.1, func(h float64) float64 {
		return 24 + 0.8*dayWave(h) + fall(h, 30, 42, 1.5, 2) + fall(h, 300, 316, 2.5, 3) + fall(h, 420, 436, 4, 1) + fall(h, 510, 560, 3.5, 12) + fall(h, 640, 660, 3, 4) + fall(h, 720, 760, 4, 8)
	}, []float64{20, 20.5, 21, 21.3, 21.6, 21.9, 22.2}},
	{"wide swing of the thermostat", 8, 75 * time.Second, 0.05, func(h float64) float64 {
		return 24 + 0.22*heaterWave(h, 20) + fall(h, 150, 170, 2, 3)
	}, []float64{22, 22.5, 23}},
	{"narrow swing of the thermostat", 8, 75 * time.Second, 0.03, func(h float64) float64 {
		return 24 + 0.1*heaterWave(h, 20) + fall(h, 150, 170, 2, 3)
	}, []float64{22, 22.5, 23}},
	{"thermostat with two cycles", 8, 75 * time.Second, 0.05, func(h float64) float64 {
		return 24 + 0.6*heaterWave(h, 25) + 0.36*heaterWave(h, 70) + fall(h, 150, 170, 3, 3)
	}, []float64{21.5, 22}},
	{"thermostat with a small second cycle", 8, 75 * time.Second, 0.02, func(h float64) float64 {
		return 24 + 0.6*heaterWave(h, 30) + 0.16*heaterWave(h, 55) + fall(h, 150, 170, 3, 3)
	}, []float64{21.5, 22}},
	{"thermostat of half an hour", 8, 75 * time.Second, 0.02, func(h float64) float64 {
		return 24 + 0.9*heaterWave(h, 31) + fall(h, 150, 170, 3, 3)
	}, []float64{21.5, 22}},
	{"thermostat of an hour", 8, 75 * time.Second, 0.02, func(h float64) float64 {
		return 24 + 0.2*heaterWave(h, 59) + fall(h, 150, 170, 3, 3)
	}, []float64{21.5, 22}},
	{"polls every 40 minutes", 12, 40 * time.Minute, 0.05, func(h float64) float64 { return 24 + fall(h, 200, 212, 2.5, 4) + fall(h, 250, 252, 1, 1) }, []float64{21.4, 22, 22.5}},
	{"polls every two hours", 12, 2 * time.Hour, 0.05, func(h float64) float64 { return 24 + fall(h, 200, 212, 2.5, 4) + fall(h, 250, 252, 1, 1) }, []float64{21.4, 22, 22.5}},
	{"first day", 1, 75 * time.Second, 0.03, func(h float64) float64 {
		return 24 + fall(h, 1.6, 2.6, 0.5, 1) + fall(h, 3, 4.6, 0.9, 1) + fall(h, 6, 12, 1.5, 2)
	}, []float64{22.4, 23, 23.3}},
	{"fast falls", 10, 75 * time.Second, 0.05, func(h float64) float64 {
		return 24 - 12*max(0, h-100)*plateau(h, 98, 101.3) - 4*max(0, h-150)*plateau(h, 140, 152) - 2*max(0, h-200)*plateau(h, 190, 203)
	}, []float64{20, 21, 21.5, 22, 22.5, 22.8, 23, 23.2, 23.4}},
	{"limit passed and passed again", 8, 75 * time.Second, 0.05, func(h float64) float64 {
		return 24 + fall(h, 150, 154, 3, 1) + fall(h, 155.5, 158, 3, 1) + fall(h, 161, 164, 3, 1)
	}, []float64{22, 22.4, 22.8}},
	{"hot spells", 20, 75 * time.Second, 0.05, func(h float64) float64 {
		return 24 + 1.5*plateau(h, 200, 202) + 1.5*plateau(h, 230, 262) + 3.2*plateau(h, 300, 332) + 5*plateau(h, 400, 432) + fall(h, 335, 350, 2, 3) + fall(h, 439, 460, 2, 3) + fall(h, 452, 470, 1, 3)
	}, []float64{21.5, 22, 22.6}},
}

// driftRow runs one course against one limit: how often it is called and for how long, the
// sums of what each call foretells in minutes, and sums of what it has learned, sampled
// every five hours.
func driftRow(c driftCourse, limit float64) []float64 {
	d := NewDrift(time.UTC, Limit{At: limit})
	seed := uint32(1)
	sums := make([]float64, 11)
	was := false
	add := func(i int, v float64) {
		if !math.IsNaN(v) && !math.IsInf(v, 0) {
			sums[i] += v
		}
	}
	zero := time.Unix(0, 0).Add(20000 * 24 * time.Hour)
	steps := int(time.Duration(c.days) * 24 * time.Hour / c.every)
	next := 5 * time.Hour
	for i := range steps {
		since := time.Duration(i) * c.every
		seed = seed*1664525 + 1013904223 // Numerical Recipes, chapter 7
		v := c.at(since.Hours()) + c.wander*(2*float64(seed>>8)/(1<<24)-1)
		now := zero.Add(since)
		is := d.Observe(now, v, true)
		if is {
			add(1, c.every.Minutes())
		}
		if is && !was {
			p, _ := d.Projection(0)
			sums[0]++
			add(2, p.At.Sub(now).Minutes())
			if !p.Earliest.IsZero() {
				add(3, p.Earliest.Sub(now).Minutes())
			}
			if !p.Latest.IsZero() {
				add(4, p.Latest.Sub(now).Minutes())
			}
		}
		was = is
		if since < next {
			continue
		}
		next += 5 * time.Hour
		low, day := d.lowestSeen(d.last), d.usualDay()
		add(5, float64(d.window))
		add(6, low)
		add(7, d.usualAt(d.last))
		for k, span := range driftSpans {
			if x, ok := d.score(d.last, k, span, low, &day); ok {
				add(8, x.sd)
				add(9, x.score)
				add(10, x.needed)
			}
		}
	}
	return sums
}

// The drift alarm calls, projects and learns as the table says. Each constant in drift.go
// changes it when it is halved or doubled. A change that is meant writes the table again
// with -update, beside what `go test -v ./alert/backtest` prints before and after it.
func TestDriftTable(t *testing.T) {
	const file = "testdata/drift-table.txt"
	var text strings.Builder
	text.WriteString("# course; limit (C); calls; minutes; to the limit, at the earliest, at the latest (min); window (bins); lowest, usual (C); spread (K); score; needed\n")
	got := [][]float64{}
	for _, c := range driftCourses {
		for _, limit := range c.limits {
			row := driftRow(c, limit)
			got = append(got, row)
			fmt.Fprintf(&text, "%s; %g", c.name, limit)
			for _, v := range row {
				fmt.Fprintf(&text, "; %.6g", v)
			}
			text.WriteByte('\n')
		}
	}
	if *update {
		if err := os.WriteFile(file, []byte(text.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	want := strings.Split(strings.TrimSpace(string(b)), "\n")[1:]
	if len(want) != len(got) {
		t.Fatalf("%d rows, want %d", len(got), len(want))
	}
	for i, line := range want {
		cells := strings.Split(line, "; ")
		for j, v := range got[i] {
			w, err := strconv.ParseFloat(cells[j+2], 64)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(v-w) > 1e-5*math.Abs(w)+1e-5 { // what is printed, and other processors round otherwise
				t.Errorf("%s, limit %s, column %d: %.6g, want %s", cells[0], cells[1], j+3, v, cells[j+2])
			}
		}
	}
}

// A value that came back by a hundredth of a kelvin from one bin to the next is on its way
// back, and is not called.
func TestDriftOnItsWayBackIsNotCalled(t *testing.T) {
	for back, want := range map[float64]bool{0: true, 0.007: true, 0.015: false} {
		d := NewDrift(time.UTC, Limit{At: 20})
		d.begun, d.last = true, 1
		d.ring[0], d.ring[1] = 22, 22+back
		d.raise(1, 0, [maxDriftLimits]Projection{{At: binEnd(5)}})
		if _, got := d.Projection(0); got != want {
			t.Errorf("back by %g K: called %t, want %t", back, got, want)
		}
	}
}

// A limit that is reached within ten minutes is left to its own alarm.
func TestDriftWithAShortLeadIsNotCalled(t *testing.T) {
	for above, want := range map[float64]bool{0.1: false, 0.2: true} { // K; it falls by 0.16 K in the first five minutes
		d := NewDrift(time.UTC, Limit{At: 20})
		day := d.usualDay()
		p := d.project(1000, 6, Limit{At: 20}, change{now: 20 + above, score: 10, sd: 0.1}, &day)
		if got := !p.At.IsZero(); got != want {
			t.Errorf("%g K above the limit: called %t, want %t", above, got, want)
		}
	}
}
