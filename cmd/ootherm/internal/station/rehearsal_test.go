package station_test

import (
	"math"
	"strings"
	"testing"
	"time"
)

// A zone's rehearsal goes by its bands in force, its own readings, and every probe that watches
// it; eggs bring the safe limits of their kind.
func TestRehearsal(t *testing.T) {
	b := newBench(t, testPlan(t))
	b.note(season)
	const hours = 60
	for m := range hours * 12 {
		c := 23.3 + 0.05*float64(m%3)
		b.observe(began.Add(time.Duration(m)*5*time.Minute), map[string]float64{"air": c, "dummy": c + 0.2, "warm": 27})
	}
	q, err := b.Retrospect().Rehearsal("room")
	if err != nil {
		t.Fatal(err)
	}
	if len(q.Limits) != 4 || q.Limits[0].Band != "wanted" || q.Limits[0].At != 22.2 || q.Limits[1].Band != "safe" || !q.Limits[2].High || strings.Join(q.Probes, " ") != "air dummy" {
		t.Fatalf("%+v", q)
	}
	means, err := q.Means("dummy", began, began.Add(time.Hour), 5*time.Minute)
	if err != nil || len(means) != 12 || math.Abs(means[1]-23.35) > 1e-9 { // the dummy's offset is -0.2
		t.Errorf("means %v (%v)", means, err)
	}
	if before, err := q.Means("dummy", began.Add(-time.Hour), began, 5*time.Minute); err != nil || !math.IsNaN(before[3]) {
		t.Errorf("before the first reading %v (%v)", before, err)
	}
	x, err := q.Look(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range x.Limits {
		if l.Failures != 25 || l.Called < 22 || l.FalseCalls > 0 || l.Days < 2 || l.Days > 2.5 {
			t.Errorf("%+v", l)
		}
	}
	if _, err := b.Retrospect().Rehearsal("attic"); err == nil || !strings.Contains(err.Error(), `no zone "attic"; it has room, incubator`) {
		t.Errorf("%v", err)
	}
}
