package forecast_test

import (
	"testing"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/forecast"
)

// A group goes from incubating to check daily, hatching and late. Check daily stays once
// it is reached, until the book says something else of the clutch.
func TestStates(t *testing.T) {
	day := func(n float64) time.Time { return laid.Add(time.Duration(n * 24 * float64(time.Hour))) }
	window := thermal.Window{CheckFrom: day(80), Likely: day(90), LateAfter: day(105)}
	latch := forecast.Latch{Since: day(80), Entries: "a"}
	for _, x := range []struct {
		name  string
		signs forecast.Signs
		want  forecast.State
		latch forecast.Latch
	}{
		{"nothing waits", forecast.Signs{Now: day(90), Window: window}, "", forecast.Latch{}},
		{"no window", forecast.Signs{Now: day(90), Window: thermal.Window{None: "too cold"}, Waiting: true}, "", forecast.Latch{}},
		{"before check-from", forecast.Signs{Now: day(79), Window: window, Waiting: true, Entries: "a"}, forecast.Incubating, forecast.Latch{}},
		{"check-from", forecast.Signs{Now: day(80), Window: window, Waiting: true, Entries: "a"}, forecast.CheckDaily, latch},
		{"check-from moved on", forecast.Signs{Now: day(79), Window: window, Waiting: true, Entries: "a", Latch: latch}, forecast.CheckDaily, latch},
		{"a corrected entry", forecast.Signs{Now: day(79), Window: window, Waiting: true, Entries: "b", Latch: latch}, forecast.Incubating, forecast.Latch{}},
		{"late", forecast.Signs{Now: day(106), Window: window, Waiting: true, Entries: "a", Latch: latch}, forecast.LateState, forecast.Latch{}},
		{"late by the model", forecast.Signs{Now: day(79), Window: thermal.Window{Late: true}, Waiting: true}, forecast.LateState, forecast.Latch{}},
		{"a mate hatched", forecast.Signs{Now: day(60), Window: window, Waiting: true, Mate: true, Latch: latch}, forecast.Hatching, forecast.Latch{}},
		{"a mate hatched long ago", forecast.Signs{Now: day(106), Window: window, Waiting: true, Mate: true}, forecast.LateState, forecast.Latch{}},
		{"pipped late", forecast.Signs{Now: day(106), Window: window, Waiting: true, Pipped: day(105)}, forecast.Hatching, forecast.Latch{}},
		{"pipped long ago", forecast.Signs{Now: day(110), Window: window, Waiting: true, Pipped: day(105)}, forecast.LateState, forecast.Latch{}},
		{"pipped without a window", forecast.Signs{Now: day(60), Window: thermal.Window{None: "too cold"}, Waiting: true, Pipped: day(50)}, forecast.Hatching, forecast.Latch{}},
	} {
		got, kept := forecast.StateOf(x.signs)
		if got != x.want || kept != x.latch {
			t.Errorf("%s: %q, %+v, want %q, %+v", x.name, got, kept, x.want, x.latch)
		}
	}
}

// A forecast carries the state of each group. A stored latch holds it, and a correction
// of the book releases it.
func TestStateOfAForecast(t *testing.T) {
	x := hatchOf(t, houseOf(t, 30, clutch{id: "S1", probe: true}), "S1")
	if x.State != forecast.Incubating || x.Latch != (forecast.Latch{}) {
		t.Errorf("after 30 days it is %q, %+v", x.State, x.Latch)
	}
	h := houseOf(t, 30, clutch{id: "S1", probe: true}, clutch{id: "S2", probe: true})
	if x := hatchOf(t, h, "S1"); len(x.Window.Why.Parts) < 5 || x.Window.Why.Days < 10 {
		t.Errorf("the width is split into %+v", x.Window.Why)
	}
}
