package joint

import (
	"math"
	"math/rand/v2"
	"testing"
)

// drawn is a book of so many clutches of two eggs of one species, eight clutches a dam, of
// which the last share waits at all stages.
func drawn(clutches int, waiting float64) Problem {
	rnd := rand.New(rand.NewPCG(1, 2))
	var groups []Group
	var dam float64
	for c := range clutches {
		if c%8 == 0 {
			dam = 0.02 * rnd.NormFloat64()
		}
		g := Group{Dam: c / 8, Clutch: c, Live: 2, ClutchVar: 1e-5 * rnd.Float64()}
		clutch := 0.08 + dam + 0.02*rnd.NormFloat64()
		if rnd.Float64() < waiting {
			met := 0.2*rnd.Float64() - 0.15
			g.Live = 0
			g.Waiting = waitAt(met, met)
		} else {
			g.Hatched = hatchAt(clutch+0.03*rnd.NormFloat64(), clutch+0.03*rnd.NormFloat64())
		}
		groups = append(groups, g)
	}
	return house(groups...)
}

func BenchmarkFiveHundredClutches(b *testing.B) {
	p := drawn(500, 0.2)
	b.ReportAllocs()
	for b.Loop() {
		if _, ok := Infer(p, nil); !ok {
			b.Fatal("no posterior")
		}
	}
}

// Every point of the grid settles, whatever the book.
func TestSettles(t *testing.T) {
	for _, waiting := range []float64{0, 0.3, 1} {
		p, _ := Infer(drawn(60, waiting), nil)
		for _, s := range p.states {
			if s.sweeps == maxSweeps || math.IsNaN(s.logWeight) {
				t.Errorf("%.0f %% wait: scatters %+v did not settle", 100*waiting, s.scatter)
			}
			t.Logf("%.0f %% wait: %d sweeps", 100*waiting, s.sweeps)
		}
	}
}

// What is left out because it weighs next to nothing leaves its weight to the rest.
func TestWeightsAddUp(t *testing.T) {
	for _, clutches := range []int{1, 8, 24} {
		p, _ := Infer(drawn(clutches, 0.2), nil)
		sum := 0.0
		for _, s := range p.Scatters() {
			sum += s.Weight
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("%d clutches: the weights sum to %.6f", clutches, sum)
		}
	}
}

// To begin from what was inferred an hour ago changes nothing, also where the prior is in parts.
func TestInferFromAnotherPosterior(t *testing.T) {
	waits := func(met float64) Problem {
		var groups []Group
		for c := range 4 {
			groups = append(groups, Group{Clutch: c, Waiting: waitAt(met, met)})
		}
		return house(groups...)
	}
	before, _ := Infer(waits(0.05), nil)
	fresh, _ := Infer(waits(0.06), nil)
	if parts := len(fresh.tree.parts()); parts < 2 {
		t.Fatalf("the prior is in %d parts", parts)
	}
	got, _ := Infer(waits(0.06), before)
	weights := func(p *Posterior) map[Scatter]float64 {
		all := map[Scatter]float64{}
		for _, s := range p.Scatters() {
			all[s.unweighted()] += s.Weight
		}
		return all
	}
	a, b := weights(got), weights(fresh)
	for s, w := range b {
		if math.Abs(a[s]-w) > 0.005 {
			t.Errorf("scatters %+v weigh %.4f, want %.4f", s, a[s], w)
		}
	}
	if len(got.states) > len(fresh.states)+5 {
		t.Errorf("%d points of the grid, want about %d", len(got.states), len(fresh.states))
	}
	for i := range got.Mean() {
		if math.Abs(got.Mean()[i]-fresh.Mean()[i]) > 1e-3 {
			t.Errorf("mean %d is %.5f, want %.5f", i, got.Mean()[i], fresh.Mean()[i])
		}
	}
}
