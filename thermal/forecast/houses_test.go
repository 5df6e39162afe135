package forecast_test

import (
	"fmt"
	"math"
	"testing"

	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/forecast/forecasttest"
	"example.com/ootherm/thermal/track"
)

// asked are figures of eggs that were asked about.
type asked struct{ n, off, wide, inside float64 }

func (a *asked) add(off, wide float64, inside bool) {
	a.n++
	a.off += math.Abs(off)
	a.wide += wide
	if inside {
		a.inside++
	}
}

func (a asked) String() string {
	return fmt.Sprintf("%5.0f eggs: %5.1f d off, %5.1f d wide, %3.0f %% inside", a.n, a.off/a.n, a.wide/a.n, 100*a.inside/a.n)
}

// Houses that are drawn: how right the windows are. That the station shows the same windows
// is tested there.
func TestSimulatedHouses(t *testing.T) {
	var all, mate, sixth asked
	var clutches, before, eggs, after, shown float64
	count := fully(2, 200)
	for seed := range count {
		s := forecasttest.Simulate(t, uint64(seed), 6, 4)
		f := forecast.New()
		laid := s.Layings
		if count < 200 {
			laid = nil // of few houses it says nothing
		}
		for _, l := range laid { // as asked at laying
			h := s.At(t, float64(l.Day)+1)
			next := forecast.New().Next(h)
			for _, g := range h.Groups {
				x, ok := next.Of(g)
				if g.Clutch != l.ID || !ok || !x.Window.Exists() {
					continue
				}
				first := math.Inf(1)
				for _, e := range g.Eggs {
					day, alive := s.Hatch[e.ID]
					if !alive {
						continue
					}
					first = math.Min(first, day)
					eggs++
					if day > daysOf(x.Window.LateAfter) {
						after++
					}
				}
				if !math.IsInf(first, 1) {
					clutches++
					if first < daysOf(x.Window.CheckFrom) {
						before++
					}
				}
			}
		}
		for _, l := range s.Layings { // the morning after a mate hatched
			a, b := s.Hatch[l.ID+"-1"], s.Hatch[l.ID+"-2"]
			day := math.Ceil(math.Min(a, b)) + 0.3
			if a == 0 || b == 0 || math.Ceil(math.Max(a, b)) <= day {
				continue
			}
			h := s.At(t, day)
			next := forecast.New().Next(h)
			for _, g := range h.Groups {
				if x, ok := next.Of(g); g.Clutch == l.ID && ok && x.Window.Exists() {
					w := x.Window
					likely, truth := w.Likely, math.Max(a, b)
					if likely.IsZero() {
						likely = h.Now
					}
					mate.add(truth-daysOf(likely), w.LateAfter.Sub(w.CheckFrom).Hours()/24, truth >= daysOf(w.CheckFrom) && truth <= daysOf(w.LateAfter))
				}
			}
		}
		for _, day := range []float64{60, 120, 180, 240} {
			h := s.At(t, day)
			f = f.Next(h)
			born := map[string]bool{}
			for _, g := range h.Groups {
				if g.Born > 0 {
					born[g.Clutch] = true
				}
			}
			for _, g := range h.Groups {
				x, ok := f.Of(g)
				w := x.Window
				if !ok || !g.Waiting || !w.Exists() {
					continue
				}
				likely := w.Likely
				if likely.IsZero() { // it is past late-after
					likely = h.Now
					if w.LateAfter.After(likely) {
						likely = w.LateAfter
					}
				} else {
					shown++
				}
				for _, e := range g.Eggs {
					truth, alive := s.Hatch[e.ID]
					if !alive || !track.Undecided(e) {
						continue
					}
					off, wide := truth-daysOf(likely), w.High95.Sub(w.Low80).Hours()/24
					inside := truth >= daysOf(w.Low80) && truth <= daysOf(w.High95)
					all.add(off, wide, inside)
					if way := w.Developed; len(born) >= 6 && way >= 0.6 && way < 0.9 && !born[g.Clutch] {
						sixth.add(off, wide, inside)
					}
				}
			}
		}
	}
	t.Logf("%d houses", count)
	t.Logf("eggs at four dates:             %v (goal 8.7 d, 35 d, 82-88 %%)", all)
	t.Logf("a mate has hatched:             %v (goal 2.2 d, 11 d)", mate)
	t.Logf("six own clutches, 60-90 %%:      %v (goal 4.7 d, 20 d, 82-88 %%)", sixth)
	if clutches > 0 {
		t.Logf("as asked at laying: %.1f %% of %.0f clutches hatch before check-from (goal 7-13 %%), %.1f %% of %.0f eggs after late-after (goal 3-7 %%)",
			100*before/clutches, clutches, 100*after/eggs, eggs)
	}
	if share := all.inside / all.n; share < 0.70 || share > 0.97 || all.n < 30 {
		t.Errorf("the interval from 10 to 95 %% holds %.0f %% of %.0f eggs", 100*share, all.n)
	}
	if mate.n > 0 && mate.wide/mate.n > all.wide/all.n/2 {
		t.Errorf("a mate that hatched leaves %.1f days, all eggs have %.1f", mate.wide/mate.n, all.wide/all.n)
	}
}
