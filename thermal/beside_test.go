package thermal

import (
	"math"
	"testing"
)

// hatches is a species that took a share longer than foretold, so many times.
func hatches(b Belief, times int, longer float64) Belief {
	logDays, _ := b.Predict(Observed{Celsius: b.Usual, Own: true})
	for range times {
		b = b.Learn(Observed{Days: math.Exp(logDays) * longer, Celsius: b.Usual, Own: true, Eggs: 2})
	}
	return b
}

// Another species teaches the house alone, in its direction, by less than it
// learned itself; and the order of the two does not matter.
func TestAnotherSpeciesTeachesTheHouseAlone(t *testing.T) {
	known := Prior(28, math.Log(60), 0.03, 0.09, 0.01) // well known, so that its hatches are the house's doing
	taught := gecko().Beside(hatches(known, 6, 1.08))
	if !(taught.House > 0.03 && taught.House < math.Log(1.08)) {
		t.Errorf("six hatches 8 %% late elsewhere put the house at %.3f", taught.House)
	}
	if taught.Own != 0 || taught.References != gecko().References {
		t.Errorf("%d own hatches and %d references, none of them this species'", taught.Own, taught.References)
	}
	low, _, high := gecko().Interval(23.3)
	l, _, h := taught.Interval(23.3)
	if math.Log(h/l) >= math.Log(high/low) {
		t.Errorf("taught by another species the interval is %.0f-%.0f, was %.0f-%.0f", l, h, low, high)
	}
	one, two := hatches(known, 3, 1.05), hatches(Prior(30, math.Log(50), 0.05, 0.08, 0.01), 2, 0.97)
	a, b := gecko().Beside(one).Beside(two), gecko().Beside(two).Beside(one)
	near(t, "house, whichever came first", a.House, b.House, 1e-12)
	near(t, "level, whichever came first", a.LogDays, b.LogDays, 1e-12)
}

// A species of which none has hatched here says nothing, and one of which little
// is known beforehand hardly anything: it may be its own doing.
func TestAnUnknownSpeciesHardlyTeachesTheHouse(t *testing.T) {
	if b := gecko().Beside(Prior(28, 4, 0.3, 0.09, 0.02)); b != gecko() {
		t.Error("a species without hatches changed the belief")
	}
	vague := gecko().Beside(hatches(Prior(28, math.Log(60), 0.5, 0.09, 0.02), 6, 1.08))
	if !(vague.House > 0 && vague.House < 0.01) {
		t.Errorf("hatches of a species nothing was known of put the house at %.3f", vague.House)
	}
}
