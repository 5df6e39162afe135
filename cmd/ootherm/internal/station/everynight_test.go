package station_test

import (
	"math"
	"testing"
	"time"
)

// A night like the three before it is not told, also when the station is killed and started
// again in it, an hour or minutes after its state was stored.
func TestAKillInAnExpectedNightTellsNothing(t *testing.T) {
	for _, kill := range []time.Duration{0, 5 * time.Minute, time.Hour, 3 * time.Hour} {
		b := newBench(t, silent(t))
		const step = 2 * time.Minute
		told := map[int]int{}
		for since := time.Duration(0); since < 5*24*time.Hour; since += step {
			at := began.Add(since)
			c := 23.3 + 0.05*math.Sin(3*since.Hours()) // a probe that gives one value for days is stuck
			if h := math.Mod(since.Hours(), 24); h >= 10 && h < 16 {
				c -= 2 * math.Sin((h-10)/6*math.Pi)
			}
			if in := since - 4*24*time.Hour - 12*time.Hour; kill > 0 && in >= 0 && in%kill == 0 && in <= kill {
				b.start(at)
			}
			b.observe(at, map[string]float64{"air": c, "dummy": c + 0.1, "warm": 27})
		}
		for _, m := range b.waiting() {
			if !m.Over {
				told[int(m.At.Sub(began)/(24*time.Hour))]++
			}
		}
		if told[0] == 0 || told[1] == 0 || told[2] == 0 || told[3] > 0 || told[4] > 0 {
			t.Errorf("killed after %v, messages by day: %v", kill, told)
		}
	}
}
