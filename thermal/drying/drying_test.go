package drying_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/booktest"
	"example.com/ootherm/thermal/drying"
)

var setUp = time.Date(2026, 4, 1, 0, 0, 0, 0, time.UTC)

const (
	day  = 24 * time.Hour
	week = 7 * day
)

// roomAir is the air of a heated room: the deficit swings by the day and falls or rises over
// weeks.
func roomAir(seed uint64, weeks int, kPa float64) *drying.Air {
	r := rand.New(rand.NewPCG(seed, 1))
	a := drying.NewAir(setUp, setUp.Add(time.Duration(weeks)*week))
	level := kPa
	for h := 0; h < weeks*7*24; h++ {
		if h%24 == 0 {
			level = kPa * math.Exp(0.25*r.NormFloat64())
		}
		at := setUp.Add(time.Duration(h) * time.Hour)
		a.Observe(at, at.Add(time.Hour), level*(1+0.3*math.Sin(2*math.Pi*float64(h)/24)))
	}
	return a
}

// simulatedBox is a box that loses water at a rate, and is weighed weekly to within a gram on a
// scale of whole grams.
func simulatedBox(r *rand.Rand, air *drying.Air, weeks int, gPerKPaHour float64, watered bool) (spans []drying.Span, doses []float64) {
	true_ := 500.0
	read := func() float64 { return math.Round(true_) + 2*r.Float64() - 1 }
	last := read()
	for w := range weeks {
		from, to := setUp.Add(time.Duration(w)*week), setUp.Add(time.Duration(w+1)*week)
		added := 0.0
		if watered {
			added = 5
			true_ += added + 2*r.Float64() - 1
		}
		dose := air.Over(from, to).Sum()
		true_ -= gPerKPaHour * (1 + 0.1*r.NormFloat64()) * dose
		now := read()
		spans = append(spans, drying.Span{From: from, To: to, LostG: last + added - now, Watered: watered})
		doses = append(doses, dose)
		last = now
	}
	return spans, doses
}

// The stated range is of 80 %; it is wider than that, since the scale's error is bounded.
func TestLearnsWithinTheStatedError(t *testing.T) {
	for _, c := range []struct {
		weeks   int
		rate    float64 // g per kPa h; at 1.3 kPa 0.03 are 6.6 g a week
		watered bool
		learned float64 // of the boxes at least
		error   float64 // of the rate, median, at most
	}{
		{2, 0.03, false, 0.95, 0.13}, {3, 0.03, false, 0.99, 0.11}, {8, 0.03, false, 1, 0.07},
		{2, 0.03, true, 0.9, 0.15}, {8, 0.03, true, 1, 0.08}, {8, 0.01, false, 0.75, 0.18}, {4, 0.1, false, 1, 0.07},
	} {
		t.Run(fmt.Sprintf("%d weeks at %g g, watered %v", c.weeks, c.rate, c.watered), func(t *testing.T) {
			const n = 1000
			learned, inside, errors := 0, 0, 0
			for i := range n {
				r := rand.New(rand.NewPCG(uint64(i), 2))
				spans, doses := simulatedBox(r, roomAir(uint64(i), c.weeks, 1.3), c.weeks, c.rate, c.watered)
				l, ok := drying.Learn(spans, doses, 0.5)
				if !ok {
					continue
				}
				learned++
				if l.Low <= c.rate && c.rate <= l.High {
					inside++
				}
				if math.Abs(l.GPerKPaHour/c.rate-1) <= c.error {
					errors++
				}
				if l.Spans != c.weeks || l.Low >= l.GPerKPaHour || l.High <= l.GPerKPaHour {
					t.Fatalf("%+v", l)
				}
			}
			share := float64(inside) / float64(learned)
			t.Logf("learned %d of %d; range holds %.3f; %.3f within %g", learned, n, share, float64(errors)/float64(learned), c.error)
			if float64(learned) < c.learned*n {
				t.Errorf("learned for %d of %d boxes, want %g", learned, n, c.learned)
			}
			if share < 0.78 || share > 0.995 {
				t.Errorf("the range holds the true loss of %.3f of the boxes, stated 0.8", share)
			}
			if errors*2 < learned {
				t.Errorf("%d of %d are within %g of the true loss, want half", errors, learned, c.error)
			}
		})
	}
}

// A weighing that is 15 g wrong spoils the spans on both sides of it, not the loss.
func TestASlipOfTheScaleCountsForLittle(t *testing.T) {
	off := 0
	for i := range 200 {
		r := rand.New(rand.NewPCG(uint64(i), 3))
		spans, doses := simulatedBox(r, roomAir(uint64(i), 7, 1.3), 7, 0.03, false)
		spans[3].LostG, spans[4].LostG = spans[3].LostG-15, spans[4].LostG+15
		l, ok := drying.Learn(spans, doses, 0.5)
		if ok && math.Abs(l.GPerKPaHour/0.03-1) > 0.3 {
			off++
		}
		if ok && l.High-l.Low < 0.006 {
			t.Errorf("the range %g to %g does not show that the weighings disagree", l.Low, l.High)
		}
	}
	if off > 20 {
		t.Errorf("%d of 200 losses are off by over 0.3", off)
	}
}

func TestNothingIsLearned(t *testing.T) {
	span := func(lost float64) drying.Span {
		return drying.Span{From: setUp, To: setUp.Add(week), LostG: lost}
	}
	nan := math.NaN()
	for name, c := range map[string]struct {
		lost, doses []float64
	}{
		"one span":                       {[]float64{6}, []float64{200}},
		"two, of one the air is unknown": {[]float64{6, 6}, []float64{200, nan}},
		"it loses nothing":               {[]float64{0, 0}, []float64{200, 200}},
		"it gains":                       {[]float64{-3, -5}, []float64{200, 200}},
		"the scale is wrong by as much":  {[]float64{0.7, 0.5}, []float64{200, 200}},
		"they disagree":                  {[]float64{20, 2}, []float64{200, 200}},
		"the air took nothing":           {[]float64{6, 6}, []float64{0, 0}},
	} {
		var spans []drying.Span
		for _, g := range c.lost {
			spans = append(spans, span(g))
		}
		if l, ok := drying.Learn(spans, c.doses, 0.5); ok {
			t.Errorf("%s: %+v", name, l)
		}
	}
	learned := func(grams ...float64) (drying.Loss, bool) {
		var spans []drying.Span
		var doses []float64
		for _, g := range grams {
			spans, doses = append(spans, span(g)), append(doses, 200)
		}
		return drying.Learn(spans, doses, 0.5)
	}
	// A loss of 6 g is uncertain by 0.71 g for the scale and 0.6 g for the box.
	l, ok := learned(6, 6)
	if want := 1.2816 * math.Sqrt((0.5+0.36)/2) / 200; !ok || math.Abs(l.GPerKPaHour-0.03) > 1e-9 || math.Abs(l.High-l.GPerKPaHour-want) > 0.01*want {
		t.Errorf("of two spans that agree it learns %+v, want 0.03 within %g", l, want)
	}
	if l, ok := learned(1.4, 1.4); !ok {
		t.Errorf("half of the range is 0.47 of the loss: %+v", l)
	}
	if l, ok := learned(1.2, 1.2); ok {
		t.Errorf("half of the range is 0.54 of the loss: %+v", l)
	}
	if l, ok := learned(6, 6, 6, 6, 12); !ok || math.Abs(l.GPerKPaHour*200-6.37) > 0.05 {
		t.Errorf("with one span that is off it learns %g g, want 6.37", l.GPerKPaHour*200)
	}
}

const setUpLines = `{"key":"x1","at":"2026-04-01T00:00:00Z","entry":"box","box":"B1","zone":"room","dry_g":40,"water_g":40,"total_g":112}
{"key":"x2","at":"2026-04-01T00:00:00Z","entry":"box","box":"B2","zone":"room"}
{"key":"c1","at":"2026-04-01T00:00:00Z","entry":"clutch","clutch":"S1","eggs":3,"laid_after":"2026-03-31T00:00:00Z","laid_by":"2026-04-01T00:00:00Z"}
{"key":"p1","at":"2026-04-01T00:10:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
`

func TestSpansAreBetweenWeighingsAlone(t *testing.T) {
	weigh := func(key, at string, grams float64) string {
		return fmt.Sprintf(`{"key":%q,"at":"2026-%s:00Z","entry":"weighed","box":"B1","total_g":%g}`+"\n", key, at, grams)
	}
	water := func(key, at string, grams float64) string {
		return fmt.Sprintf(`{"key":%q,"at":"2026-%s:00Z","entry":"watered","box":"B1","water_g":%g}`+"\n", key, at, grams)
	}
	three := weigh("w1", "04-08T00:00", 106) + weigh("w2", "04-15T00:00", 101) + weigh("w3", "04-22T00:00", 94)
	for _, c := range []struct{ name, lines, want string }{
		{"each week", three, "04-01 6, 04-08 5, 04-15 7"},
		{"watered at once", three + water("a1", "04-08T00:30", 6), "04-01 6, 04-08 11 watered, 04-15 7"},
		{"watered within the hour", three + water("a1", "04-08T00:59", 6), "04-01 6, 04-08 11 watered, 04-15 7"},
		{"watered after the hour", three + water("a1", "04-08T01:01", 6), "04-01 6, 04-15 7"},
		{"weighed again in 23 hours", weigh("w1", "04-08T00:00", 106) + weigh("w2", "04-08T23:00", 105), "04-01 6"},
		{"weighed again in 25 hours", weigh("w1", "04-08T00:00", 106) + weigh("w2", "04-09T01:00", 105), "04-01 6, 04-08 1"},
		{"an egg in within a day", three + `{"key":"l","at":"2026-04-01T23:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}`, "04-01 6, 04-08 5, 04-15 7"},
		{"an egg in after a day", three + `{"key":"l","at":"2026-04-02T01:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}`, "04-08 5, 04-15 7"},
		{"watered later", three + water("a1", "04-10T00:00", 6), "04-01 6, 04-15 7"},
		{"an egg out", three + `{"key":"l","at":"2026-04-10T00:00:00Z","entry":"lost","egg":"S1-1"}`, "04-01 6, 04-15 7"},
		{"an egg in", three + `{"key":"l","at":"2026-04-03T00:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}`, "04-08 5, 04-15 7"},
		{"ten times too much", three + weigh("w4", "04-29T00:00", 880) + weigh("w5", "05-06T00:00", 82) + weigh("w6", "05-13T00:00", 76), "04-01 6, 04-08 5, 04-15 7, 05-06 6"},
		{"ten times too little", three + weigh("w4", "04-29T00:00", 8.8) + weigh("w5", "05-06T00:00", 82) + weigh("w6", "05-13T00:00", 76), "04-01 6, 04-08 5, 04-15 7, 05-06 6"},
		{"water that was not noted", three + weigh("w4", "04-29T00:00", 98) + weigh("w5", "05-06T00:00", 92), "04-01 6, 04-08 5, 04-15 7, 04-29 6"},
		{"a gain within the scale's error", three + weigh("w4", "04-29T00:00", 97), "04-01 6, 04-08 5, 04-15 7, 04-22 -3"},
		{"all of its water and what was added", three + water("a1", "04-22T00:30", 12) + weigh("w4", "04-29T00:00", 54), "04-01 6, 04-08 5, 04-15 7, 04-22 52 watered"},
		{"weighed twice in a day", three + weigh("w4", "04-22T09:00", 94), "04-01 6, 04-08 5, 04-15 7"},
		{"set up again", three + `{"key":"e","at":"2026-04-23T00:00:00Z","entry":"moved","egg":"S1-1","box":"B2","slot":"a"}
{"key":"x3","at":"2026-04-23T01:00:00Z","entry":"box","box":"B1","zone":"room","dry_g":40,"water_g":40,"total_g":112}`, ""},
		{"never", "", ""},
	} {
		b, _ := booktest.Fold(t, setUpLines+c.lines).Box("B1")
		var got []string
		for _, s := range drying.Spans(b) {
			text := fmt.Sprintf("%s %g", s.From.Format("01-02"), s.LostG)
			if s.Watered {
				text += " watered"
			}
			got = append(got, text)
		}
		if strings.Join(got, ", ") != c.want {
			t.Errorf("%s: %v, want %s", c.name, got, c.want)
		}
	}
	var many strings.Builder
	for i := range 12 {
		many.WriteString(weigh(fmt.Sprint("m", i), setUp.Add(time.Duration(i+1)*week).Format("01-02T15:04"), 112-float64(i)))
	}
	if b, _ := booktest.Fold(t, setUpLines+many.String()).Box("B1"); len(drying.Spans(b)) != 8 || drying.Spans(b)[7].LostG != 1 {
		t.Errorf("of twelve weighings %v", drying.Spans(b))
	}
}

func TestTended(t *testing.T) {
	var b book.Box
	if !drying.Tended(b).IsZero() {
		t.Error("a box that was never weighed was tended")
	}
	b.Weighings = []book.Weighing{{At: setUp.Add(day)}}
	if !drying.Tended(b).Equal(setUp.Add(day)) {
		t.Error("a weighing does not count")
	}
	b.Waterings = []book.Watering{{At: setUp.Add(2 * day)}}
	if !drying.Tended(b).Equal(setUp.Add(2 * day)) {
		t.Error("a watering does not count")
	}
}

func TestAirIsSummed(t *testing.T) {
	a := drying.NewAir(setUp, setUp.Add(10*time.Hour))
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 1e-9 || math.IsNaN(got) != math.IsNaN(want) {
			t.Errorf("%s is %g, want %g", what, got, want)
		}
	}
	hour := func(i float64) time.Time { return setUp.Add(time.Duration(i * float64(time.Hour))) }
	near("air of which nothing is known", a.Over(hour(0), hour(5)).Sum(), math.NaN())
	a.Observe(hour(-3), hour(4), 1) // hours of uptime do not begin with those of the clock
	a.Observe(hour(4), hour(4.5), math.NaN())
	a.Observe(hour(4.5), hour(10.5), 2)
	near("the first four", a.Over(hour(0), hour(4)).Sum(), 4)
	near("parts of hours", a.Over(hour(3.5), hour(5.5)).Sum(), 0.5+2+1)
	c := drying.NewAir(hour(0), hour(2))
	c.Observe(hour(0), hour(0.4), 1)
	c.Observe(hour(1), hour(1.6), 1)
	near("four tenths of an hour", c.Over(hour(0), hour(1)).Sum(), math.NaN())
	near("six tenths of an hour", c.Over(hour(1), hour(2)).Sum(), 1)
	near("before it began", a.Over(hour(-5), hour(4)).Sum(), math.NaN())
	near("nothing", a.Over(hour(4), hour(4)).Sum(), 0)
	near("two hours after the last", a.Over(hour(8), hour(12)).Sum(), 8)
	near("all of it after the last", a.Over(hour(11), hour(12)).Sum(), 2)
	near("four hours after the last", a.Over(hour(8), hour(14)).Sum(), math.NaN())

	b := drying.NewAir(hour(10), hour(30))
	b.Observe(hour(10), hour(28.5), -0.1) // past saturation
	b.Observe(hour(10), hour(28.5), 2)    // another probe
	a.Extend(b)
	if !a.From().Equal(hour(0)) || !a.To().Equal(hour(30)) {
		t.Errorf("from %v to %v", a.From(), a.To())
	}
	near("joined", a.Over(hour(8), hour(12)).Sum(), 4+2)
	near("an hour of 20 is missing", a.Over(hour(10), hour(30)).Sum(), 20)
	near("an hour of five is missing", a.Over(hour(25), hour(30)).Sum(), math.NaN())
	a.Forget(hour(8.5))
	near("what is kept", a.Over(hour(8), hour(12)).Sum(), 4+2)
	near("what is dropped", a.Over(hour(7), hour(8)).Sum(), math.NaN())
	a.Forget(hour(-5))
	if a.Forget(hour(99)); !a.From().Equal(hour(30)) || !a.To().Equal(hour(30)) {
		t.Errorf("all is dropped: from %v to %v", a.From(), a.To())
	}
}
