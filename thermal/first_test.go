package thermal

import (
	"math"
	"testing"
)

// The first of the eggs that wait is the first of those that will hatch: the more of them are
// dead, the later it comes.
func TestFirstOfTheEggsThatLive(t *testing.T) {
	e := Eggs{Waiting: 2, Alive: []float64{0.5, 0.5}} // of the other one, beside one that is alive
	if got := e.living(); math.Abs(got[0]-2.0/3) > 1e-12 || math.Abs(got[1]-1.0/3) > 1e-12 {
		t.Errorf("one alone or both are alive: %v, want two to one", got)
	}
	if got := (&Eggs{Waiting: 3}).living(); got[0] != 0 || got[1] != 0 || got[2] != 1 {
		t.Errorf("where nothing is known of it, all are alive: %v", got)
	}
	o := Steady(23.3, 0.5).Outlook(gecko(), day(40))
	heat := Heat{Laid: Laid{start, start}, Since: felt(23.3, 40), ProbeSD: 0.3}
	from := func(waiting int, alive ...float64) float64 {
		e := o.eggs(heat)
		e.Waiting, e.Alive = waiting, alive
		return daysTo(o.WindowOf(heat, e).CheckFrom)
	}
	one, both, either := from(1), from(2, 0, 1), from(2, 0.5, 0.5)
	if !(both < either-0.2 && either < one-0.2) {
		t.Errorf("check from day %.2f of two that live, %.2f of one or two, %.2f of one", both, either, one)
	}
}

// Late-after leaves out one in twenty of what is learned here, and fewer of what is only
// published, because published durations have heavy tails.
func TestTailsOfLateAfter(t *testing.T) {
	o := Steady(23.3, 0).Outlook(gecko(), day(40))
	heat := Heat{Laid: Laid{start, start}, Since: felt(23.3, 40)}
	late := func(published float64) (days, left float64) {
		e := o.eggs(heat)
		for i := range e.Open {
			e.Open[i].Published = published
		}
		w := o.WindowOf(heat, e)
		f := o.forecast(heat, e)
		return daysTo(w.LateAfter), 1 - f.hatched(daysTo(w.LateAfter)-40, false)
	}
	learned, left := late(0)
	if math.Abs(left-0.05) > 0.001 {
		t.Errorf("late-after leaves out %.4f of what is learned, want 0.05", left)
	}
	published, left := late(1)
	if !(published > learned+1) || math.Abs(left-0.041) > 0.003 {
		t.Errorf("of what is published it leaves out %.4f on day %.1f, want 0.041 and later than day %.1f", left, published, learned)
	}
}
