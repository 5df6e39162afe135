package forecast_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"example.com/ootherm/thermal/forecast"
)

// A step of the station infers nothing again that did not change: neither in the same day,
// nor, of what check-from is made of, on the next. An entry changes it.
func TestStepsInferOnce(t *testing.T) {
	y, s := alone("Y3", "Yarrow", 0), alone("S1", "Sorrel", 3)
	f := forecast.New()
	for _, x := range []struct {
		day      float64
		hatched  bool
		computed int // of four: open and present evidence, by the curve and by the line
	}{{90.6, false, 4}, {90.7, false, 0}, {91.3, false, 0}, {91.6, false, 2}, {91.7, true, 4}, {91.8, true, 0}} {
		of := s
		if x.hatched {
			of = s.With(1, hatched(91.65))
		}
		next := f.Next(houseAt(t, room, x.day, y, of))
		all, kept := forecast.Inferred(next, f)
		if all-kept != x.computed {
			t.Errorf("day %.1f: %d of %d inferences computed, want %d", x.day, all-kept, all, x.computed)
		}
		f = next
	}
}

// manyClutches are seasons of so many clutches of two eggs, of which the last few wait.
func manyClutches(n int) []laying {
	rnd := rand.New(rand.NewPCG(1, 2))
	var all []laying
	for c := range n {
		l := alone(fmt.Sprintf("C%d", c), fmt.Sprintf("Dam %d", c/12), 2*c)
		l.Box = fmt.Sprintf("B%d", c%40)
		for e := range l.Eggs {
			if rnd.IntN(10) > 0 {
				l = l.With(e+1, hatched(math.Round(float64(2*c)+96*math.Exp(0.04*rnd.NormFloat64()))))
			}
		}
		all = append(all, l)
	}
	return all
}

// Five hundred clutches of a thousand eggs, from nothing and step by step.
func BenchmarkFiveHundredClutches(b *testing.B) {
	const day = 1040.6
	layings := manyClutches(500)
	h := houseAt(b, room, day, layings...)
	b.Run("first", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			forecast.New().Next(h)
		}
	})
	b.Run("step", func(b *testing.B) {
		f := forecast.New().Next(h)
		b.ReportAllocs()
		for b.Loop() {
			f.Next(h)
		}
	})
}
