package backtest_test

import (
	"math"
	"testing"

	"example.com/ootherm/thermal"
)

// The 11 recorded nests at fixed ages, when none has hatched: how many days off is the likely
// day, with the course of the other nests as the seasons before. An age that is a share of
// the nest's own days would tell when it ends.
func TestNestsAtFixedAges(t *testing.T) {
	nests := readNests(t)
	belief, err := published(t, "Caretta caretta").Belief()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []struct{ age, goal, most float64 }{{29, 3.0, 3.0}, {43, 1.9, 2.02}, {50, 1.3, 1.45}} {
		var off, count float64
		for i, n := range nests {
			if n.days() <= want.age {
				continue
			}
			history := n.history(want.age, 0)
			for j, o := range nests {
				if j != i {
					history = append(history, o.history(o.days(), 1+(j+len(nests)-i)%len(nests))...)
				}
			}
			climate, ok := history.Climate(math.NaN(), belief.Usual, day(want.age))
			if !ok {
				t.Fatalf("%s has no climate", n.name)
			}
			heat := thermal.Heat{Laid: thermal.Laid{Earliest: laid, Latest: laid}, Since: n.felt(0, want.age)}
			w := climate.Outlook(belief, day(want.age)).Window(heat)
			likely := w.Likely
			if likely.IsZero() { // it is past late-after
				likely = w.LateAfter
			}
			off += math.Abs(likely.Sub(day(n.days())).Hours()) / 24
			count++
		}
		t.Logf("%.0f days old: %.0f nests, %.2f days off (goal %.1f)", want.age, count, off/count, want.goal)
		if off/count > want.most {
			t.Errorf("%.0f days old: %.2f days off, want at most %.2f", want.age, off/count, want.most)
		}
	}
}
