package alert_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ootherm/alert"
)

// Rooms that lose their heat, and runaways mirrored: how often the limit is
// reached within the two times that were told, and how far off the middle is.
func TestReach(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 5))
	told, inside, n := 0, 0, 0
	var off []float64
	for range 400 {
		tau, drop, high := 1+7*r.Float64(), 4+6*r.Float64(), r.IntN(2) == 0
		sign := -1.0
		if high {
			sign = 1
		}
		wander := 0.0
		value := func(h float64) float64 {
			wander = 0.98*wander + 0.01*r.NormFloat64()
			return 23.3 + sign*drop*(1-math.Exp(-h/tau)) + wander + 0.05*r.NormFloat64()
		}
		wanted, safe := 1.1, 1.1+1+1.2*r.Float64() // K from where it began
		reached := -tau * math.Log(1-safe/drop)
		begins := -tau * math.Log(1-wanted/drop)
		if safe >= drop || reached-begins < 0.4 {
			continue
		}
		n++
		var trend alert.Trend
		last := 0.0
		for s := -3600; float64(s) < (begins+1.0/6)*3600; s += 10 {
			last = value(max(0, float64(s)/3600))
			trend.Observe(sec(s), last, true)
		}
		now := sec(int((begins + 1.0/6) * 3600))
		p, ok := trend.Extrapolate(now, last, alert.Limit{High: high, At: 23.3 + sign*safe})
		if !ok {
			continue
		}
		told++
		truth := sec(int(reached * 3600))
		if !truth.Before(p.Earliest) && (p.Latest.IsZero() || !truth.After(p.Latest)) {
			inside++
		}
		off = append(off, p.At.Sub(truth).Abs().Minutes()/truth.Sub(now).Minutes())
		if p.At.Before(p.Earliest) || !p.Latest.IsZero() && p.Latest.Before(p.At) {
			t.Fatalf("%v is not between %v and %v", p.At, p.Earliest, p.Latest)
		}
	}
	mean := 0.0
	for _, x := range off {
		mean += x / float64(len(off))
	}
	t.Logf("%d of %d told, %.0f %% of these reached between the two times, the middle off by %.0f %% of the time left", told, n, 100*float64(inside)/float64(told), 100*mean)
	if told < n*9/10 || inside < told*8/10 || mean > 0.35 {
		t.Error("want nine in ten told, eight in ten of these inside, off by a third at most")
	}
}

// A steady room, one that goes the other way, and a limit already passed foretell
// nothing.
func TestReachSaysNothing(t *testing.T) {
	for _, c := range []struct {
		what    string
		perHour float64
		limit   float64
	}{
		{"steady", 0, 20}, {"rising from a low limit", 1, 20}, {"falling so slowly that it never comes", -0.05, 20}, {"past it", -1, 30},
	} {
		var trend alert.Trend
		r := rand.New(rand.NewPCG(1, 1))
		for s := 0; s <= 3600; s += 10 {
			trend.Observe(sec(s), 22+c.perHour*float64(s)/3600+0.02*r.NormFloat64(), true)
		}
		if p, ok := trend.Extrapolate(sec(3600), 22+c.perHour, alert.Limit{At: c.limit}); ok {
			t.Errorf("%s: foretells %+v", c.what, p)
		}
	}
	var young alert.Trend
	young.Observe(sec(0), 22, true)
	if _, ok := young.Extrapolate(sec(0), 22, alert.Limit{At: 20}); ok {
		t.Error("one value foretells something")
	}
}
