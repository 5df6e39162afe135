package backtest_test

import (
	"testing"

	"example.com/ootherm/thermal/backtest"
	"example.com/ootherm/thermal/profile"
)

// The published durations, none of which is seen when it is predicted.
func TestScoreOfPublishedDurations(t *testing.T) {
	rows := readRows(t)
	t.Logf("%-12s %-7s %4s %7s %7s %7s %7s", "model", "knowing", "n", "median", "mean", "inside", "width")
	for _, want := range []struct {
		model, protocol         string
		err, inside, most, wide float64 // percent
	}{
		{profile.ModelCurve, backtest.KnowingFamily, 24, 78, 88, 98},
		{profile.ModelCurve, backtest.KnowingOne, 5.6, 77, 88, 29},
		{profile.ModelCurve, backtest.KnowingRest, 3.8, 77, 88, 19},
		{profile.ModelLine, backtest.KnowingRest, 5, 77, 88, 23},
	} {
		r, err := backtest.Score(rows, want.model)
		if err != nil {
			t.Fatal(err)
		}
		s := r.Protocols[want.protocol]
		t.Logf("%-12s %-7s %4d %6.2f%% %6.2f%% %6.1f%% %6.1f%%", want.model, want.protocol, s.N,
			100*s.MedianAPE, 100*s.MAPE, 100*s.Within80, 100*s.Width80)
		if s.N != 650 {
			t.Errorf("%s: %d rows, want 650", want.protocol, s.N)
		}
		if 100*s.MedianAPE > want.err || 100*s.Width80 > want.wide || 100*s.Within80 < want.inside || 100*s.Within80 > want.most {
			t.Errorf("%s, %s: error %.2f %%, inside %.1f %%, width %.1f %%; want at most %g, %g to %g, at most %g",
				want.model, want.protocol, 100*s.MedianAPE, 100*s.Within80, 100*s.Width80, want.err, want.inside, want.most, want.wide)
		}
	}
}
