package station_test

import (
	"testing"
	"time"
)

// A zone says until when there is no early warning, from its first reading until it has
// learned; a restart forgets nothing of it, and a zone without a band says nothing.
func TestLearningUntil(t *testing.T) {
	b := newBench(t, testPlan(t))
	until := func(zone int) *time.Time { return b.Now().Zones[zone].LearningUntil }
	at := began
	run := func(d time.Duration) {
		for end := at.Add(d); at.Before(end); at = at.Add(time.Minute) {
			b.observe(at, map[string]float64{"air": 23.3, "dummy": 23.5, "warm": 27})
		}
	}
	run(time.Hour)
	first := until(0)
	if first == nil || first.Sub(began) < 2*time.Hour || first.Sub(began) > 3*time.Hour || until(1) != nil {
		t.Fatalf("after an hour it learns until %v; without a band %v", first, until(1))
	}
	b.start(at)
	b.observe(at, map[string]float64{"air": 23.3, "dummy": 23.5, "warm": 27})
	if got := until(0); got == nil || got.Sub(*first).Abs() > 5*time.Minute {
		t.Errorf("after a restart until %v, before %v", got, first)
	}
	run(2 * time.Hour)
	if got := until(0); got != nil {
		t.Errorf("after three hours it still learns until %v", got)
	}
}
