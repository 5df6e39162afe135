package stats_test

import (
	"math"
	"testing"

	"example.com/ootherm/thermal/book/stats"
	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.6f, want %.6f within %g", what, got, want, within)
	}
}

// The worked examples of Newcombe 1998, Stat Med 17:857, table I, method 3.
func TestWilson(t *testing.T) {
	for _, c := range []struct {
		r         stats.Ratio
		low, high float64
	}{
		{stats.Ratio{Count: 81, Of: 263}, 0.2553, 0.3662},
		{stats.Ratio{Count: 15, Of: 148}, 0.0624, 0.1605},
		{stats.Ratio{Count: 0, Of: 20}, 0, 0.1611},
		{stats.Ratio{Count: 1, Of: 29}, 0.0061, 0.1718},
		{stats.Ratio{Count: 7, Of: 10}, 0.3968, 0.8922},
	} {
		low, high := c.r.Interval()
		near(t, "low end", low, c.low, 0.00005)
		near(t, "high end", high, c.high, 0.00005)
	}
	if low, high := (stats.Ratio{}).Interval(); !math.IsNaN(low) || !math.IsNaN(high) {
		t.Errorf("nothing out of nothing is %v to %v", low, high)
	}
}

// Newcombe 1998, Stat Med 17:873, table II, method 10, example (a).
func TestNewcombe(t *testing.T) {
	d, low, high := stats.Ratio{Count: 56, Of: 70}.Minus(stats.Ratio{Count: 48, Of: 80})
	near(t, "difference", d, 0.2, 1e-12)
	near(t, "low end", low, 0.0524, 0.00005)
	near(t, "high end", high, 0.3339, 0.00005)
}

func TestIntervalsHold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ratio := func() stats.Ratio {
			n := rapid.IntRange(1, 300).Draw(t, "of")
			return stats.Ratio{Count: rapid.IntRange(0, n).Draw(t, "count"), Of: n}
		}
		a, b := ratio(), ratio()
		low, high := a.Interval()
		if !(0 <= low && low <= a.Share() && a.Share() <= high && high <= 1) {
			t.Fatalf("%v has interval %v to %v", a, low, high)
		}
		d, dl, dh := a.Minus(b)
		_, ol, oh := b.Minus(a)
		if !(-1 <= dl && dl <= d && d <= dh && dh <= 1) || math.Abs(dl+oh) > 1e-12 || math.Abs(dh+ol) > 1e-12 {
			t.Fatalf("%v minus %v is %v (%v to %v), the other way %v to %v", a, b, d, dl, dh, ol, oh)
		}
		if p := a.Fisher(b); !(p > 0 && p <= 1) || math.Abs(p-b.Fisher(a)) > 1e-9 {
			t.Fatalf("%v against %v has p %v, the other way %v", a, b, p, b.Fisher(a))
		}
	})
}

// Fisher's own tea tasting, 3 of 4 against 1 of 4: 34/70 two-sided (Agresti
// 2002, table 3.8, from memory; the sum of 16 + 1 + 16 + 1 tables of 70).
func TestFisher(t *testing.T) {
	near(t, "p", stats.Ratio{Count: 3, Of: 4}.Fisher(stats.Ratio{Count: 1, Of: 4}), 34.0/70, 1e-12)
	near(t, "p of all against none", stats.Ratio{Count: 4, Of: 4}.Fisher(stats.Ratio{Count: 0, Of: 4}), 2.0/70, 1e-12)
	near(t, "p of nothing", stats.Ratio{}.Fisher(stats.Ratio{Count: 1, Of: 4}), 1, 1e-12)
}

// By hand: 0.01 x 4, 0.02 x 3, 0.03 x 2 (raised to the one before), 0.04 x 1.
func TestHolm(t *testing.T) {
	got := stats.Holm([]float64{0.04, 0.01, 0.03, 0.02})
	for i, want := range []float64{0.06, 0.04, 0.06, 0.06} {
		near(t, "adjusted p", got[i], want, 1e-12)
	}
	near(t, "p of one", stats.Holm([]float64{0.3})[0], 0.3, 0)
	near(t, "p of many", stats.Holm([]float64{0.7, 0.8})[0], 1, 0)
}

// Remission in weeks under 6-mercaptopurine (Freireich et al. 1963, Blood
// 21:699, in most textbooks, as Cox and Oakes 1984, table 1.1; the steps and
// their standard errors from memory, and again by hand: 18/21, x 16/17 ...).
func TestSurvival(t *testing.T) {
	var spans []stats.Span
	for _, d := range []float64{6, 6, 6, 7, 10, 13, 16, 22, 23} {
		spans = append(spans, stats.Span{Days: d, Ended: true})
	}
	for _, d := range []float64{35, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34} {
		spans = append(spans, stats.Span{Days: d})
	}
	want := []stats.Step{
		{Days: 6, AtRisk: 21, Ended: 3, Alive: 0.857, Error: 0.0764},
		{Days: 7, AtRisk: 17, Ended: 1, Alive: 0.807, Error: 0.0869},
		{Days: 10, AtRisk: 15, Ended: 1, Alive: 0.753, Error: 0.0963},
		{Days: 13, AtRisk: 12, Ended: 1, Alive: 0.690, Error: 0.1068},
		{Days: 16, AtRisk: 11, Ended: 1, Alive: 0.627, Error: 0.1141},
		{Days: 22, AtRisk: 7, Ended: 1, Alive: 0.538, Error: 0.1282},
		{Days: 23, AtRisk: 6, Ended: 1, Alive: 0.448, Error: 0.1346},
	}
	got := stats.Survival(spans)
	if len(got) != len(want) {
		t.Fatalf("%d steps, want %d: %+v", len(got), len(want), got)
	}
	for i, w := range want {
		g := got[i]
		if g.Days != w.Days || g.AtRisk != w.AtRisk || g.Ended != w.Ended {
			t.Errorf("step is %+v, want %+v", g, w)
		}
		near(t, "share alive", g.Alive, w.Alive, 0.0005)
		near(t, "standard error", g.Error, w.Error, 0.00005)
		if !(0 < g.Low && g.Low < g.Alive && g.Alive < g.High && g.High < 1) {
			t.Errorf("interval %v to %v does not hold %v", g.Low, g.High, g.Alive)
		}
	}
	none := stats.Survival([]stats.Span{{Days: 2, Ended: true}, {Days: 1}})
	if len(none) != 1 || none[0].Alive != 0 || !math.IsNaN(none[0].Low) {
		t.Errorf("the last one ended: %+v", none)
	}
}
