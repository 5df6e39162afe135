package history

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"pgregory.net/rapid"

	"example.com/ootherm/sensor"
	"example.com/ootherm/thermal"
)

// curve is a rate that bends, so that a misplaced cell shows.
type curve struct{}

func (curve) PerDay(c float64) float64 {
	x := c - 23.3
	return math.Exp(-4.6 + 0.11*x - 0.0055*x*x)
}

// straight is the exposure by the readings alone, one by one.
func straight(points []Point, limit time.Duration, correct Correction) (x thermal.Exposure, first, last thermal.Sample) {
	first, last = nothing(), nothing()
	any := false
	for _, p := range points {
		if !p.Believed() || math.IsNaN(p.Celsius) {
			continue
		}
		here := thermal.Sample{At: p.At, Celsius: p.Celsius}
		if correct != nil {
			here.Celsius = correct(p.At, p.Celsius)
		}
		switch {
		case !any:
			first, any = here, true
		case here.At.Sub(last.At) > limit:
			x = x.Gap(thermal.Gap{From: last.At, To: here.At, Before: last.Celsius, After: here.Celsius})
		default:
			x = x.Span(last, here)
		}
		last = here
	}
	return x, first, last
}

func wantEqual(t rapid.TB, got, want thermal.Exposure, within float64) {
	t.Helper()
	if got.Measured() != want.Measured() || got.Missing() != want.Missing() {
		t.Fatalf("measured %s, missing %s; want %s and %s", got.Measured(), got.Missing(), want.Measured(), want.Missing())
	}
	a, b := got.Share(curve{}), want.Share(curve{})
	if math.Abs(a-b) > within*math.Max(b, 1e-12) {
		t.Fatalf("share %.15g, want %.15g", a, b)
	}
	g, w := got.Gaps(), want.Gaps()
	if len(g) != len(w) {
		t.Fatalf("%d gaps, want %d", len(g), len(w))
	}
	for i := range g {
		if !g[i].From.Equal(w[i].From) || !g[i].To.Equal(w[i].To) || math.Abs(g[i].Before-w[i].Before) > 1e-6 || math.Abs(g[i].After-w[i].After) > 1e-6 {
			t.Fatalf("gap %d is %+v, want %+v", i, g[i], w[i])
		}
	}
}

// season fills a store over several boots, with holes, flushing now and then.
func season(t rapid.TB, s *Store, rng *rand.Rand, boots int) (end time.Time) {
	start := t0
	for i := range boots {
		b, err := s.Begin(string(rune('a'+i)), start, 0, true)
		if err != nil {
			t.Fatal(err)
		}
		length := time.Duration(rng.IntN(40*60)+1) * time.Minute
		for j, r := range room(rng, "p", b.Number, time.Duration(rng.IntN(1000))*time.Second, length, time.Duration(20+rng.IntN(300))*time.Second) {
			if err := s.Append([]sensor.Reading{r}); err != nil {
				t.Fatal(err)
			}
			if j%60 == 59 {
				if err := s.Flush(); err != nil {
					t.Fatal(err)
				}
			}
		}
		start = start.Add(length + time.Duration(rng.IntN(3*3600))*time.Second + time.Duration(rng.IntN(1e9)))
	}
	return start
}

func TestSummariesAndRaggedEndsAreTheReadings(t *testing.T) {
	for name, make := range kinds {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(r *rapid.T) {
				limit := rapid.SampledFrom([]time.Duration{10 * time.Minute, 3 * time.Minute, time.Hour}).Draw(r, "limit")
				rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(r, "seed"), 1))
				s := make(t, Options{GapLimit: limit}).Store
				end := season(r, s, rng, rapid.IntRange(1, 3).Draw(r, "boots"))
				span := end.Sub(t0)
				from := t0.Add(time.Duration(rng.Int64N(int64(span))))
				to := from.Add(time.Duration(rng.Int64N(int64(span))))
				if rng.IntN(4) == 0 {
					from, to = t0, end
				}
				got, first, last, err := s.Exposure("p", from, to, nil)
				if err != nil {
					r.Fatal(err)
				}
				want, wantFirst, wantLast := straight(between(t, s, "p", from, to), limit, nil)
				wantEqual(r, got, want, 1e-9)
				for _, pair := range [][2]thermal.Sample{{first, wantFirst}, {last, wantLast}} {
					if !pair[0].At.Equal(pair[1].At) || math.Abs(pair[0].Celsius-pair[1].Celsius) > 1e-9 {
						r.Fatalf("an end is %+v, want %+v", pair[0], pair[1])
					}
				}
			})
		})
	}
}

func TestCorrectionIsAppliedWhenRead(t *testing.T) {
	contract(t, Options{}, func(t *testing.T, s store) {
		end := season(t, s.Store, rand.New(rand.NewPCG(7, 7)), 4)
		change := t0.Add(end.Sub(t0) * 2 / 5)
		correct := func(at time.Time, raw float64) float64 {
			if at.Before(change) {
				return raw - 0.3
			}
			return 1.01*raw + 0.1
		}
		got, first, last, err := s.Exposure("p", t0, end, correct)
		if err != nil {
			t.Fatal(err)
		}
		// Corrected cell by cell, so the bend of the rate inside a cell of 0.1 K
		// is all that differs: (0.1 K)^2/8 of 0.0055 per K^2, times two.
		points := between(t, s.Store, "p", t0, end)
		want, wantFirst, wantLast := straight(points, defaultGapLimit, correct)
		wantEqual(t, got, want, 3e-5)
		if math.Abs(got.Mean()-want.Mean()) > 1e-6 {
			t.Errorf("mean %.9f, want %.9f", got.Mean(), want.Mean())
		}
		if first.Celsius != wantFirst.Celsius || math.Abs(last.Celsius-wantLast.Celsius) > 1e-9 {
			t.Errorf("ends %g, %g; want %g, %g", first.Celsius, last.Celsius, wantFirst.Celsius, wantLast.Celsius)
		}
		// With each line apart, by the readings, it is the same to the bit.
		var before, after []Point
		for _, p := range points {
			if p.At.Before(change) {
				before = append(before, p)
			} else {
				after = append(after, p)
			}
		}
		x, _, l := straight(before, defaultGapLimit, nil)
		y, f, _ := straight(after, defaultGapLimit, nil)
		whole := x.Map(1, -0.3).Plus(y.Map((correct(change, 64)-correct(change, 0))/64, 0.1))
		l.Celsius, f.Celsius = correct(l.At, l.Celsius), correct(f.At, f.Celsius)
		if f.At.Sub(l.At) > defaultGapLimit {
			whole = whole.Gap(thermal.Gap{From: l.At, To: f.At, Before: l.Celsius, After: f.Celsius})
		} else {
			whole = whole.Span(l, f)
		}
		if a, b := got.Share(curve{}), whole.Share(curve{}); math.Abs(a-b) > 1e-9*b {
			t.Errorf("share %.15g, want %.15g", a, b)
		}
	})
}

func TestNothingBelievedIsNoTime(t *testing.T) {
	contract(t, Options{}, func(t *testing.T, s store) {
		b := begin(t, s.Store, "a", t0)
		r := reading("p", b.Number, time.Hour, 85)
		r.Cause = sensor.PowerOn
		put(t, s.Store, r)
		for _, probe := range []string{"p", "never"} {
			x, first, last, err := s.Exposure(probe, t0, t0.Add(24*time.Hour), nil)
			if err != nil || x.Measured() != 0 || x.Missing() != 0 || !first.At.IsZero() || !math.IsNaN(first.Celsius) || !math.IsNaN(last.Celsius) {
				t.Errorf("%s: measured %s, from %+v to %+v, %v", probe, x.Measured(), first, last, err)
			}
		}
	})
}
