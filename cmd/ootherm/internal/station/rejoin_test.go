package station_test

import (
	"fmt"
	"testing"
	"time"
)

// Eggs that were warm for weeks and rejoin their box keep their own heat and window, and
// those that stayed keep theirs, whatever the eggs are called. The log says whose window it
// has.
func TestEggsThatRejoinKeepTheirOwnHeat(t *testing.T) {
	developed := map[bool][2]float64{}
	for _, swapped := range []bool{false, true} {
		p := testPlan(t)
		p.Every = time.Hour
		b := newBench(t, p)
		b.options.ForecastEvery = 1000 * 24 * time.Hour
		b.start(began)
		away, stayed := "S1-2", "S1-1"
		if swapped {
			away, stayed = stayed, away
		}
		at := func(day int) string { return began.AddDate(0, 0, day).Format(time.RFC3339) }
		b.note(dam("Sorrel", "crested gecko") + layEggs(0, "S1", "Sorrel", "crested gecko", 2))
		b.note(fmt.Sprintf(`{"key":"w","at":%[1]q,"entry":"box","box":"W","zone":"incubator","probe":"warm"}
{"key":"m","at":%[1]q,"entry":"moved","egg":%[2]q,"box":"W","slot":"1"}
`, at(0), away))
		for day := range 30 {
			if day == 20 {
				b.note(fmt.Sprintf(`{"key":"r","at":%q,"entry":"moved","egg":%q,"box":"box S1","slot":"9"}`, began.Add(20*24*time.Hour-time.Hour).Format(time.RFC3339), away))
			}
			for hour := 24 * day; hour < 24*day+24; hour++ {
				b.observe(began.Add(time.Duration(hour)*time.Hour), map[string]float64{"air": 21, "dummy": 21.2, "warm": 26})
			}
		}
		b.Refresh()
		if err := b.Tick(t.Context(), began.AddDate(0, 0, 30)); err != nil {
			t.Fatal(err)
		}
		var got [2]float64
		parts := 0
		for _, c := range boxOf(b.Now(), "box S1").Clutches {
			parts++
			if len(c.Eggs) != 1 || c.Window == nil {
				t.Fatalf("eggs %+v with the window %+v, want one with a window", c.Eggs, c.Window)
			}
			if c.Eggs[0].Egg == away {
				got[1] = *c.Developed
			} else {
				got[0] = *c.Developed
			}
		}
		if parts != 2 || !(got[1] > got[0]*1.25) {
			t.Errorf("%d parts, developed %.3f and, where it was warm, %.3f", parts, got[0], got[1])
		}
		developed[swapped] = got
		shown, err := b.Queries().ShownWindows("S1")
		if err != nil {
			t.Fatal(err)
		}
		whole := false
		for _, w := range shown {
			whole = whole || w.Box == "box S1" && len(w.Eggs) == 1
		}
		if !whole {
			t.Errorf("no window in the log says whose it is: %+v", shown)
		}
	}
	if developed[false] != developed[true] {
		t.Errorf("developed %v, and %v with the names swapped", developed[false], developed[true])
	}
}
