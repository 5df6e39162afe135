package alert_test

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// recovering is a room with a day's course and noise whose heater fails at an hour and
// is back later; where it does not stop after that, it goes on past what is usual.
type recovering struct {
	course          float64 // K, from the middle
	fails, outage   time.Duration
	cools, warms    time.Duration // time constants
	depth, runsAway float64       // K
}

func (r recovering) at(t time.Duration, noise float64) float64 {
	v := 23.3 + r.course*math.Sin(2*math.Pi*(t.Hours()-9)/24) + noise
	since := t - r.fails
	if since < 0 {
		return v
	}
	fallen := r.depth * (1 - math.Exp(-min(since, r.outage).Hours()/r.cools.Hours()))
	if back := since - r.outage; back > 0 {
		e := 1 - math.Exp(-back.Hours()/r.warms.Hours())
		fallen += (-r.runsAway - fallen) * e
	}
	return v - fallen
}

// A room that comes back from cold to where it always is does not get too warm, nor
// the other way about; one whose heater then does not stop does, and is told in time.
func TestComingBackIsNoDrift(t *testing.T) {
	back, called, ran, early, lead, step := 0, 0, 0, 0, time.Duration(0), 12
	if os.Getenv("OOTHERM_FULL") != "" {
		step = 6
	}
	for _, runsAway := range []float64{0, 6} {
		for _, high := range []bool{true, false} {
			for _, outage := range []time.Duration{time.Hour, 3 * time.Hour, 8 * time.Hour, 24 * time.Hour} {
				for _, warms := range []time.Duration{time.Hour, 2 * time.Hour, 4 * time.Hour} {
					for _, days := range []int{1, 3, 8, 20} {
						for hour := 0; hour < 24; hour += step {
							r := recovering{course: 0.5, fails: time.Duration(days*24+hour) * time.Hour, outage: outage, cools: 3 * time.Hour, warms: warms, depth: 6, runsAway: runsAway}
							call, reached := r.watch(high)
							switch {
							case runsAway == 0:
								back++
								if call > 0 {
									called++
								}
							case reached > 0:
								ran++
								if call > 0 {
									early++
									lead += reached - call
								}
							}
						}
					}
				}
			}
		}
	}
	t.Logf("%d came back, %d of them called; %d ran away, %d of them called before the limit, by %v on average", back, called, ran, early, lead/time.Duration(early))
	if called*10 > back {
		t.Errorf("%d of %d that came back were called, want one in ten at most", called, back)
	}
	if early*100 < ran*90 || lead/time.Duration(early) < 20*time.Minute {
		t.Errorf("%d of %d that ran away were called before the limit, by %v on average", early, ran, lead/time.Duration(early))
	}
}

// watch is when a drift was first called after the failure, and when the limit was
// reached; zero for never. It is watched at the warm end, or, turned over, at the cold.
func (r recovering) watch(high bool) (called, reached time.Duration) {
	const usual, limit = 23.3, 24.4
	sign, l := 1.0, alert.Limit{High: true, At: limit}
	if !high {
		sign, l = -1, alert.Limit{At: 2*usual - limit}
	}
	d, rng, was := alert.NewDrift(time.UTC, l), rand.New(rand.NewPCG(1, uint64(r.fails))), false
	for at := time.Duration(0); at < r.fails+r.outage+12*time.Hour; at += 2 * time.Minute {
		v := r.at(at, 0.05*rng.NormFloat64())
		is := d.Observe(start.Add(at), usual+sign*(v-usual), true)
		if is && !was && at >= r.fails && called == 0 {
			called = at
		}
		was = is
		if at > r.fails && v >= limit {
			return called, at
		}
	}
	return called, 0
}
