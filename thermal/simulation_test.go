package thermal

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"
)

// The window comes from the model linearised at its middle. This test simulates the same
// clutch twenty thousand times without that: it draws every number and integrates the rate
// until the requirement is met.
func TestWindowAgreesWithSimulation(t *testing.T) {
	b := gecko()
	b.Upper = 0
	for _, c := range []struct {
		name            string
		layDays, now    float64
		celsius, coming float64
		sd, probe       float64
	}{
		{"cool room, warmer weeks to come", 1, 40, 21, 24, 1, 0.3},
		{"a month between looks into the lay box", 30, 30, 23, 23, 0.5, 0.3},
		{"some would have hatched", 2, 95, 23.3, 23.3, 0.5, 0.3},
	} {
		heat := Heat{Laid: Laid{day(-c.layDays), start}, Since: felt(c.celsius, c.now), Before: felt(c.celsius, c.layDays), ProbeSD: c.probe}
		w := windowOf(heat, b, Steady(c.coming, c.sd), day(c.now))
		draw := drawer(b, rand.New(rand.NewPCG(1, 2)))
		var hatch []float64
		for range 20000 {
			logDays, slope, bend, rnd := draw()
			logDays += math.Sqrt(TreatmentSD*TreatmentSD+EggSD*EggSD-DamSD*DamSD) * rnd.NormFloat64()
			k := kernel{usual: b.Usual, slope: slope, bend: bend}
			off := c.probe * rnd.NormFloat64()
			past := k.at(c.celsius + off).days
			future := k.at(c.coming + off + c.sd*rnd.NormFloat64()).days
			left := math.Exp(logDays) - past*(c.now+c.layDays*rnd.Float64())
			if left > 0 {
				hatch = append(hatch, c.now+left/future)
			}
		}
		slices.Sort(hatch)
		at := func(p float64) float64 { return hatch[int(p*float64(len(hatch)))] }
		t.Logf("%s: computed %.1f, %.1f, %.1f, %.1f d, simulated %.1f, %.1f, %.1f, %.1f", c.name,
			daysTo(w.Low80), daysTo(w.Likely), daysTo(w.High80), daysTo(w.High95), at(0.1), at(0.5), at(0.9), at(0.95))
		within := 0.06 * (at(0.9) - at(0.1))
		near(t, c.name+": 10 %, d", daysTo(w.Low80), at(0.1), within)
		near(t, c.name+": 50 %, d", daysTo(w.Likely), at(0.5), within)
		near(t, c.name+": 90 %, d", daysTo(w.High80), at(0.9), within)
		near(t, c.name+": 95 %, d", daysTo(w.High95), at(0.95), within)
	}
}

// drawer draws a belief's numbers by the Cholesky root of their covariance.
func drawer(b Belief, rnd *rand.Rand) func() (logDays, slope, bend float64, r *rand.Rand) {
	var root [states][states]float64
	for i := range states {
		for j := 0; j <= i; j++ {
			sum := b.Covariance[i][j]
			for k := range j {
				sum -= root[i][k] * root[j][k]
			}
			switch {
			case i == j:
				root[i][i] = math.Sqrt(math.Max(0, sum))
			case root[j][j] > 0:
				root[i][j] = sum / root[j][j]
			}
		}
	}
	middle := b.vector()
	return func() (float64, float64, float64, *rand.Rand) {
		v := middle
		var z [states]float64
		for i := range states {
			z[i] = rnd.NormFloat64()
			for j := 0; j <= i; j++ {
				v[i] += root[i][j] * z[j]
			}
		}
		return v[iLevel] + v[iHouse] + v[iDam], v[iSlope], v[iBend], rnd
	}
}

func BenchmarkSeasonOfTwelveProbes(b *testing.B) {
	const readings = 20_700_000
	b.ReportAllocs()
	for b.Loop() {
		var boxes [12]Exposure
		last := [12]Sample{}
		for i := range last {
			last[i] = Sample{start, 23}
		}
		for i := range readings {
			box := i % len(boxes)
			next := Sample{last[box].At.Add(10 * time.Second), 22 + float64(i%2001)/1000}
			boxes[box].Add(last[box], next)
			last[box] = next
		}
	}
}
