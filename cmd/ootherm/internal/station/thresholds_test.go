package station_test

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// A probe that gave a humidity in the day before the last reading is known to measure it, also
// after a restart; one that gave it earlier is not.
func TestHumidityIsRememberedForADay(t *testing.T) {
	for without, want := range map[time.Duration]int{20 * time.Hour: 1, 30 * time.Hour: 0} {
		b := newBench(t, damp(t))
		at := began
		b.moist(at, map[string]float64{"air": 0.5, "warm": 0.8}, nil)
		at = at.Add(without)
		b.moist(at, map[string]float64{"warm": 0.8}, nil)
		b.start(at.Add(time.Hour))
		at = at.Add(time.Hour)
		b.events = nil
		for range 30 {
			at = at.Add(time.Minute)
			b.moist(at, map[string]float64{"warm": 0.8}, nil)
		}
		if n := len(b.raised("humidity-silent")); n != want {
			t.Errorf("%v without a humidity, then a restart: raised %d times, want %d", without, n, want)
		}
	}
}

// A message says whether the second probe agrees, by the limit of the zone's alarm: 3 K unless
// it has its own.
func TestSecondProbeAgrees(t *testing.T) {
	for apart, want := range map[float64]string{2.7: "(agrees)", 3.3: "(does not agree: look at both)"} {
		p := testPlan(t)
		p.Probes[1].Offset = 0
		p.Zones = []plan.Zone{p.Zones[0]}
		p.Zones[0].Apart = 3
		b := newBench(t, p)
		at := began
		for range 30 {
			at = at.Add(time.Minute)
			b.observe(at, map[string]float64{"air": 21, "dummy": 21 + apart, "warm": 27})
		}
		all := b.waiting()
		if len(all) != 1 || !strings.Contains(all[0].Body, want) {
			t.Errorf("%.1f K apart: %v, want %q", apart, all, want)
		}
	}
}
