package alert_test

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// A failure that was mended is not foretold for the days after it, at neither end, and the next
// one is foretold as the first was.
func TestFailureTeachesNothing(t *testing.T) {
	step := 12 // hours
	if os.Getenv("OOTHERM_FULL") != "" {
		step = 2
	}
	const week = 7 * 24 * time.Hour
	failures, called, again, first, second := 0, 0, 0, 0, 0
	for _, cold := range []bool{true, false} {
		for _, depth := range []float64{3, 6, 11} {
			for _, outage := range []time.Duration{time.Hour, 3 * time.Hour, 9 * time.Hour, 24 * time.Hour} {
				for _, warms := range []time.Duration{20 * time.Minute, time.Hour, 2 * time.Hour} {
					for hour := 0; hour < 24; hour += step {
						fails := week + time.Duration(hour)*time.Hour
						r := recovering{course: 0.5, fails: fails, outage: outage, cools: 3 * time.Hour, warms: warms, depth: depth}
						next := r
						next.fails = fails + 5*24*time.Hour
						towards, other := bothEnds(cold)
						rng := rand.New(rand.NewPCG(1, uint64(fails)))
						back := fails + outage + 5*warms
						var calls [3]bool // in the first failure, in the days after, in the second failure
						was, passed := false, false
						for at := time.Duration(0); at < next.fails+outage; at += 2 * time.Minute {
							v := r.at(at, 0) + next.at(at, 0) - recovering{course: 0.5, fails: 2 * week}.at(at, 0) + 0.05*rng.NormFloat64()
							if !cold {
								v = 2*23.3 - v
							}
							near, far := towards.Observe(start.Add(at), v, true), other.Observe(start.Add(at), v, true)
							switch {
							case at < fails:
							case at < back:
								calls[0], passed = calls[0] || near, passed || math.Abs(v-23.3) > 1.2
							case at < next.fails:
								calls[1] = calls[1] || (near || far) && !was
							default:
								calls[2] = calls[2] || near
							}
							was = near || far
						}
						if !passed { // what passes no limit is what the room does by itself
							continue
						}
						failures++
						for i, n := range []*int{&first, &called, &second} {
							if calls[i] {
								*n++
							}
						}
						if calls[0] && calls[2] {
							again++
						}
					}
				}
			}
		}
	}
	t.Logf("%d failures, %d foretold; after %d of them a call without a failure; of the second ones %d foretold, of those whose first was %d", failures, first, called, second, again)
	if called*50 > failures {
		t.Errorf("%d of %d failures were foretold again in the days after", called, failures)
	}
	if again*100 < first*98 {
		t.Errorf("of %d failures that were foretold, only %d were the second time", first, again)
	}
}

// bothEnds are the drifts of both ends of a room: the one that falls, or rises, and the other.
func bothEnds(cold bool) (towards, other *alert.Drift) {
	ends := func(high bool) *alert.Drift {
		sign := -1.0
		if high {
			sign = 1
		}
		return alert.NewDrift(time.UTC, alert.Limit{High: high, At: 23.3 + 1.2*sign}, alert.Limit{High: high, At: 23.3 + 3.2*sign})
	}
	return ends(!cold), ends(cold)
}
