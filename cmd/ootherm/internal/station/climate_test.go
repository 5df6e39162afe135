package station_test

import (
	"iter"
	"math"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor/history"
)

// spans is a history that notes from when on its summaries are asked for.
type spans struct {
	station.History
	from []time.Time
}

func (s *spans) Summaries(probe string, from, to time.Time) iter.Seq2[history.Summary, error] {
	s.from = append(s.from, from)
	return s.History.Summaries(probe, from, to)
}

// A climate is made of the last six years of stored readings.
func TestClimateIsOfSixYears(t *testing.T) {
	b := newBench(t, testPlan(t))
	h := &spans{History: b.options.History}
	b.options.History = h
	at := began.Add(time.Hour)
	b.start(at)
	if len(h.from) != len(b.options.Plan.Probes) {
		t.Fatalf("the summaries were asked for %d times, want once a probe", len(h.from))
	}
	for _, from := range h.from {
		if want := at.AddDate(-6, 0, 0); !from.Equal(want) {
			t.Errorf("asked from %v on, want %v", from, want)
		}
	}
}

// The same readings make the same window at the same moment, whatever the time of day is
// where the station is. A day like the one before moves the window by the hour only so far as
// its warm half develops more than its cold one: 1.6 hours either way.
func TestWindowIsTheSameInEveryTimeZone(t *testing.T) {
	windows := map[string][]time.Time{}
	for name, place := range map[string]*time.Location{"UTC": time.UTC, "Auckland": time.FixedZone("NZST", 12*3600)} {
		p := testPlan(t)
		p.Every, p.Location = time.Hour, place
		b := newBench(t, p)
		b.options.ForecastEvery = 1000 * 24 * time.Hour // each is asked for
		b.start(began)
		b.note(dam("Sorrel", "crested gecko") + layEggs(0, "S1", "Sorrel", "crested gecko", 1))
		day := func(hour int) float64 { return 23.3 + 4*math.Sin(2*math.Pi*float64(hour)/24) }
		b.live(0, 20*24, day)
		for hour := 20 * 24; hour < 22*24; hour++ {
			b.live(hour, hour+1, day)
			b.Refresh()
			windows[name] = append(windows[name], b.clutch("S1").Window.Likely)
		}
	}
	utc, auckland := windows["UTC"], windows["Auckland"]
	for i := range utc {
		if !utc[i].Equal(auckland[i]) {
			t.Fatalf("%d hours after day 20 the likely day is %v in UTC and %v in Auckland", i, utc[i], auckland[i])
		}
		if by := utc[i].Sub(utc[0]).Abs(); by > 4*time.Hour {
			t.Errorf("%d hours after day 20 the likely day has moved by %v", i, by)
		}
	}
}

// A cold night moves the likely day by what was not developed in it, not as if the nights
// to come were all a bit like it.
func TestOneColdNightDoesNotBendTheWindow(t *testing.T) {
	p := testPlan(t)
	p.Every = time.Hour
	likely := func(celsius func(hour int) float64) []time.Time {
		b := newBench(t, p)
		b.options.ForecastEvery = 1000 * 24 * time.Hour // each is asked for
		b.start(began)
		b.note(dam("Sorrel", "crested gecko") + layEggs(0, "S1", "Sorrel", "crested gecko", 1))
		b.live(0, 40*24, celsius)
		var all []time.Time
		for hour := 40 * 24; hour < 44*24; hour += 24 {
			b.live(hour, hour+24, celsius)
			b.Refresh()
			all = append(all, b.clutch("S1").Window.Likely)
		}
		return all
	}
	with := likely(func(hour int) float64 {
		if hour >= 39*24 && hour < 39*24+10 {
			return 14
		}
		return 23.3
	})
	for i, without := range likely(steady(23.3)) {
		if by := with[i].Sub(without); by < 4*time.Hour || by > 14*time.Hour {
			t.Errorf("%d hours after it a night of ten hours moved the likely day by %v; it lost about eight hours of development", 14+24*i, by)
		}
	}
}
