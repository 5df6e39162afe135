package station_test

import (
	"math"
	"os"
	"testing"
	"time"

	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/book/ledger"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/forecast/forecasttest"
)

// simulation is a drawn house whose readings and notes go through a station, one step after
// another. The house has a value for each hour.
type simulation struct {
	*station.Station
	t       *testing.T
	step    time.Duration
	house   forecasttest.Simulated
	boot    history.Boot
	entries []book.Entry // still to come
}

func newSimulation(t *testing.T, seed uint64, dams, clutches int, step time.Duration) *simulation {
	t.Helper()
	house := forecasttest.Simulate(t, seed, dams, clutches)
	p := testPlan(t)
	p.Every, p.Probes, p.Zones = step, nil, []plan.Zone{{Name: "room", Kind: "room"}}
	for _, l := range house.Layings {
		name := forecasttest.Probe(l.Boxed())
		p.Probes = append(p.Probes, plan.Probe{Name: name})
		p.Zones[0].Probes = append(p.Zones[0].Probes, name)
	}
	past := history.Memory(history.Options{GapLimit: 2 * step})
	boot, err := past.Begin("one", forecasttest.At(-3), 0, true)
	if err != nil {
		t.Fatal(err)
	}
	s, err := station.New(t.Context(), station.Options{Plan: p, Boot: boot, ForecastEvery: seasonStep,
		Stores: station.Stores{History: past, Ledger: ledger.Memory(), Journal: outbox.NewMemory()}}, forecasttest.At(-3))
	if err != nil {
		t.Fatal(err)
	}
	return &simulation{s, t, step, house, boot, booktest.Read(t, forecasttest.Book(math.Inf(1), house.Layings...))}
}

// until lets the days pass up to one.
func (s *simulation) until(from, to float64) {
	s.t.Helper()
	for day := from; day < to; day += s.step.Hours() / 24 {
		hour := int(math.Round(day * 24))
		at := forecasttest.At(float64(hour) / 24)
		s.Advance(at)
		n := 0
		for n < len(s.entries) && !s.entries[n].At.After(at) {
			n++
		}
		if n > 0 {
			if _, err := s.Note(s.t.Context(), book.NewDraft(s.entries[:n]...)); err != nil {
				s.t.Fatal(err)
			}
			s.entries = s.entries[n:]
		}
		var batch []sensor.Reading
		for _, l := range s.house.Layings {
			if hour >= 0 {
				batch = append(batch, sensor.Reading{Probe: forecasttest.Probe(l.Boxed()), Measurement: sensor.Measurement{Celsius: s.house.Boxes[l.Boxed()][hour], Humidity: math.NaN()},
					Stamp: sensor.Stamp{Boot: s.boot.Number, Uptime: at.Sub(forecasttest.At(-3))}})
			}
		}
		if len(batch) == 0 {
			continue
		}
		if err := s.Observe(s.t.Context(), batch); err != nil {
			s.t.Fatal(err)
		}
	}
}

// windows are those that the page shows, by clutch.
func (s *simulation) windows() map[string]*snapshot.Window {
	all := map[string]*snapshot.Window{}
	for _, b := range s.Now().Boxes {
		for _, c := range b.Clutches {
			if c.Window != nil {
				all[c.Clutch] = c.Window
			}
		}
	}
	return all
}

// Houses that are drawn, through the station: it shows the windows that the forecast has for
// the same house, which TestSimulatedHouses measures on many. How right they are is printed.
func TestSimulatedHousesThroughTheStation(t *testing.T) {
	t.Parallel()
	houses, dams, clutches, step, most := 1, 2, 2, seasonStep, 1.0
	if os.Getenv("OOTHERM_FULL") != "" {
		houses, dams, clutches, step, most = 10, 6, 4, time.Hour, 0.25
	}
	var told fit
	var asked, apart, worst float64
	for seed := range houses {
		s := newSimulation(t, uint64(seed), dams, clutches, step)
		day := -2.0
		for _, next := range []float64{10, 60, 110} {
			s.until(day, next+0.01)
			day = next + step.Hours()/24
			s.Refresh()
			h := s.house.At(t, next)
			f := forecast.New().Next(h)
			shown := s.windows()
			for _, g := range h.Groups {
				x, ok := f.Of(g)
				w := shown[g.Clutch]
				if !ok || !g.Waiting || !x.Window.Exists() {
					continue
				}
				if w == nil {
					t.Errorf("house %d, day %.0f: %s has no window", seed, next, g.Clutch)
					continue
				}
				asked++
				for _, pair := range [][2]time.Time{{x.Window.CheckFrom, w.CheckFrom}, {x.Window.LateAfter, w.LateAfter}} {
					off := math.Abs(pair[0].Sub(pair[1]).Hours()) / 24
					apart += off / 2
					worst = max(worst, off)
				}
				told.add(s.house, g.Clutch, w)
			}
		}
	}
	t.Logf("%.0f windows of %d houses: %.2f d from those of the forecast alone, %.2f at most", asked, houses, apart/asked, worst)
	t.Logf("%d of %d clutches hatch before check-from, %d of %d eggs after late-after", told.early, told.clutches, told.late, told.eggs)
	if asked < 5 || worst > most {
		t.Errorf("%.0f windows, up to %.2f d from those of the forecast alone", asked, worst)
	}
}

// fit counts how windows fit the eggs that hatch.
type fit struct {
	clutches, early int // of which an egg hatches, and before check-from
	eggs, late      int // that hatch, and after late-after
}

func (f *fit) add(house forecasttest.Simulated, clutch string, w *snapshot.Window) {
	first := math.Inf(1)
	for e := range 2 {
		day, alive := house.Hatch[book.EggID(clutch, e+1)]
		if !alive {
			continue
		}
		first = math.Min(first, day)
		f.eggs++
		if day > forecasttest.Day(w.LateAfter) {
			f.late++
		}
	}
	if !math.IsInf(first, 1) {
		f.clutches++
		if first < forecasttest.Day(w.CheckFrom) {
			f.early++
		}
	}
}
