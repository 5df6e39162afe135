package mixedmodel

import (
	"math"
	"math/rand/v2"
	"testing"
)

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-9*(1+math.Abs(want))) {
		t.Errorf("%s is %.12g, want %.12g", what, got, want)
	}
}

// One number at each rank, by hand: two species of one genus, of which one was measured.
func TestPredictByHand(t *testing.T) {
	tree := Tree{
		Leaves:     []Leaf{{Path: Path{"o", "f", "g", "a"}, Message: Measured(1, 0.1, 0)}},
		Deviations: Deviations{Levels: [Ranks]float64{0.1, 0.2, 0.3, 0.4}},
	}
	for _, c := range []struct {
		path   Path
		shared float64 // variance
	}{
		{Path{"o", "f", "g", "b"}, 0.14}, {Path{"o", "f", "h", "b"}, 0.05}, {Path{"o", "f", "", ""}, 0.05},
		{Path{"o", "", "", ""}, 0.01}, {Path{"p", "f", "g", "b"}, 0}, {Path{"o", "f", "g", "a"}, 0},
	} {
		n := tree.Predict(c.path)
		near(t, "level", n.Mean.Level, c.shared/(0.30+0.01))
		near(t, "variance", n.LevelLevel, 0.30-c.shared*c.shared/(0.30+0.01))
	}
}

// A level that was measured away from the place of a pair says the more of its slope.
func TestMeasuredAway(t *testing.T) {
	n := Normal{LevelLevel: 4, SlopeSlope: 9}
	got := n.Given(Measured(5, 1, 2))
	// y = level + 2 slope, variance 4 + 36 + 1.
	near(t, "level", got.Mean.Level, 4*5/41.0)
	near(t, "slope", got.Mean.Slope, 18*5/41.0)
	near(t, "level variance", got.LevelLevel, 4-16/41.0)
	near(t, "slope variance", got.SlopeSlope, 9-18*18/41.0)
	near(t, "covariance", got.LevelSlope, -4*18/41.0)
	slope := n.Given(MeasuredSlope(3, 3))
	near(t, "slope that was measured", slope.Mean.Slope, 1.5)
}

// The order of leaves below one parent does not matter, and shifting back and forth changes
// nothing.
func TestMessages(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 100 {
		m := Measured(r.NormFloat64(), 0.1+r.Float64(), r.NormFloat64()).Plus(MeasuredSlope(r.NormFloat64(), 0.1+r.Float64()))
		o := Measured(r.NormFloat64(), 0.1+r.Float64(), r.NormFloat64())
		by := Pair{r.NormFloat64(), r.NormFloat64()}
		v := Pair{r.Float64(), r.Float64()}
		back := m.Shift(by).Shift(Pair{-by.Level, -by.Slope})
		near(t, "weight", back.Weight.Slope, m.Weight.Slope)
		near(t, "constant", back.Constant, m.Constant)
		near(t, "shifted through", m.Shift(by).Through(v).Constant, m.Through(v).Shift(by).Constant)
		n := Normal{LevelLevel: 1 + r.Float64(), LevelSlope: 0.5, SlopeSlope: 1}
		a, b := n.Given(m).Given(o), n.Given(o.Plus(m))
		near(t, "both messages", a.Mean.Level, b.Mean.Level)
		near(t, "both messages' variance", a.SlopeSlope, b.SlopeSlope)
	}
}
