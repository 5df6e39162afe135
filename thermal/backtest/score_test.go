package backtest_test

import (
	"maps"
	"math"
	"slices"
	"testing"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/backtest"
	"example.com/ootherm/thermal/profile"
)

// The published durations, each species left out of the tables when it is predicted.
func TestScoreOfPublishedDurations(t *testing.T) {
	rows := readRows(t)
	t.Logf("%-16s %-12s %-7s %4s %7s %7s %7s %9s %6s %6s", "clade", "model", "knowing", "n", "median", "inside", "width", "log score", "early", "late")
	log := func(clade, model, protocol string, s backtest.Summary) {
		t.Logf("%-16s %-12s %-7s %4d %6.2f%% %6.1f%% %6.1f%% %9.3f %5.1f%% %5.1f%%", clade, model, protocol, s.N,
			100*s.MedianAPE, 100*s.Within80, 100*s.Width80, s.LogScore, 100*s.Early10, 100*s.Late10)
	}
	results := map[string]backtest.Result{}
	for _, model := range []string{profile.ModelCurve, profile.ModelLine} {
		r, err := backtest.Score(rows, model)
		if err != nil {
			t.Fatal(err)
		}
		results[model] = r
	}
	for _, want := range []struct {
		model, protocol                 string
		err, inside, most, wide, logged float64 // percent, but for the least log score
	}{
		{profile.ModelCurve, backtest.KnowingFamily, 18, 78, 86, 92, -0.28},
		{profile.ModelCurve, backtest.KnowingOne, 5.2, 78, 86, 29, 0.76},
		{profile.ModelCurve, backtest.KnowingRest, 3.5, 78, 86, 19, 1.04},
		{profile.ModelLine, backtest.KnowingRest, 5, 77, 88, 23, 0.90},
	} {
		s := results[want.model].Protocols[want.protocol]
		log("all", want.model, want.protocol, s)
		if s.N != 650 {
			t.Errorf("%s: %d rows, want 650", want.protocol, s.N)
		}
		if 100*s.MedianAPE > want.err || 100*s.Width80 > want.wide || 100*s.Within80 < want.inside || 100*s.Within80 > want.most || s.LogScore < want.logged {
			t.Errorf("%s, %s: error %.2f %%, inside %.1f %%, width %.1f %%, log score %.3f; want at most %g, %g to %g, at most %g, at least %g",
				want.model, want.protocol, 100*s.MedianAPE, 100*s.Within80, 100*s.Width80, s.LogScore, want.err, want.inside, want.most, want.wide, want.logged)
		}
	}
	// No clade hides behind another one.
	const rowsOfAGroup, insideOfAGroup = 20, 72.0
	groups := 0
	for _, clade := range backtest.Clades() {
		for _, protocol := range backtest.Protocols() {
			s := results[profile.ModelCurve].Clades[clade][protocol]
			log(clade, profile.ModelCurve, protocol, s)
			if s.N < rowsOfAGroup {
				continue
			}
			groups++
			if 100*s.Within80 < insideOfAGroup {
				t.Errorf("%s, %s: %.1f %% inside the 80 %% interval, want at least %g", clade, protocol, 100*s.Within80, insideOfAGroup)
			}
		}
	}
	if groups != 4*3 {
		t.Errorf("%d groups of %d rows or more, want four under three protocols", groups, rowsOfAGroup)
	}
}

// The log score and the shares early and late of one row, by hand.
func TestScoreByHand(t *testing.T) {
	row := func(celsius, days float64) backtest.Row {
		return backtest.Row{Study: "1", Order: "Squamata", Family: "Agamidae", Species: "A b", Celsius: celsius, Days: days}
	}
	r, err := backtest.Score([]backtest.Row{row(26, 70), row(30, 500)}, "")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range r.Rows {
		const z80 = 1.2816
		sd := math.Log(p.High80/p.Low80) / 2 / z80
		off := math.Log(p.Actual/p.Predicted) / sd
		if want := -math.Log(sd*math.Sqrt(2*math.Pi)) - off*off/2; math.Abs(p.LogScore-want) > 1e-9 {
			t.Errorf("log score %.4f, want %.4f", p.LogScore, want)
		}
		if want := 0.5 * (1 + math.Erf(off/math.Sqrt2)); math.Abs(p.PIT-want) > 1e-9 {
			t.Errorf("%.4f of the prediction is earlier, want %.4f", p.PIT, want)
		}
	}
	if s := r.Clades[backtest.OtherSquamates][backtest.KnowingOne]; s.Early10 != 0.5 || s.Late10 != 0.5 {
		t.Errorf("of a far too early and a far too late row %+v", s)
	}
}

// Geckos are told apart by their family, under whatever order.
func TestClade(t *testing.T) {
	for _, c := range [][3]string{
		{"Squamata", "Eublepharidae", backtest.Geckos}, {"", "Gekkonidae", backtest.Geckos}, {"Squamata", "Agamidae", backtest.OtherSquamates},
		{"Testudines", "Emydidae", backtest.Turtles}, {"Crocodilia", "Crocodylidae", backtest.Crocodilians},
		{"Rhynchocephalia", "Sphenodontidae", backtest.OtherReptiles}, {"", "", backtest.OtherReptiles},
	} {
		if got := backtest.Clade(c[0], c[1]); got != c[2] {
			t.Errorf("%s, %s is of the %s, want %s", c[0], c[1], got, c[2])
		}
	}
}

// Rows of other studies of the same species are worth more than any prior: on the species
// that two studies share, with the row's own study left out.
func TestRowsOfOtherStudies(t *testing.T) {
	rows := readRows(t)
	table, err := profile.ReadTable()
	if err != nil {
		t.Fatal(err)
	}
	var apart, by []float64
	species := map[string]bool{}
	for _, r := range rows {
		var own []backtest.Row
		for _, o := range rows {
			if o.Species == r.Species {
				own = append(own, o)
			}
		}
		low, high := own[0].Celsius, own[0].Celsius
		studies := map[string][]thermal.Observed{}
		for _, o := range own {
			low, high = math.Min(low, o.Celsius), math.Max(high, o.Celsius)
			if o.Study != r.Study {
				studies[o.Study] = append(studies[o.Study], thermal.Observed{Days: o.Days, Celsius: o.Celsius, DailyRange: o.DailyRange})
			}
		}
		if low == high || len(studies) == 0 {
			continue
		}
		species[r.Species] = true
		off := func(b thermal.Belief) float64 {
			logDays, _ := b.Predict(thermal.Observed{Celsius: r.Celsius, DailyRange: r.DailyRange, Own: true})
			return math.Abs(math.Exp(logDays)/r.Days - 1)
		}
		b := table.Kin(r.Order, r.Family, r.Species).Belief((low + high) / 2)
		apart = append(apart, off(b))
		for _, name := range slices.Sorted(maps.Keys(studies)) {
			b = b.Study(studies[name])
		}
		by = append(by, off(b))
	}
	slices.Sort(apart)
	slices.Sort(by)
	kin, published := 100*apart[len(apart)/2], 100*by[len(by)/2]
	t.Logf("%d rows of %d species: median error %.1f %% by their relatives, %.1f %% by rows of other studies", len(by), len(species), kin, published)
	if published > 8 || published > kin/2 {
		t.Errorf("rows of other studies err by %.1f %%, relatives by %.1f %%", published, kin)
	}
}
