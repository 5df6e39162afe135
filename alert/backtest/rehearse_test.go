package backtest_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/backtest"
)

// threeWeeks is a room of two probes at 23 C with a day's course of a kelvin and noise.
func threeWeeks() backtest.Rehearsal {
	rng := rand.New(rand.NewPCG(3, 14))
	r := backtest.Rehearsal{Begin: time.Date(2026, 3, 1, 6, 0, 0, 0, time.UTC), Failures: 25, Seed: 1, Probes: make([][]float64, 2)}
	for bin := range 21 * 288 {
		course := 23 + 0.5*math.Sin(2*math.Pi*float64(bin)/288)
		for p := range r.Probes {
			r.Probes[p] = append(r.Probes[p], course+0.1*float64(p)+0.03*rng.NormFloat64())
		}
	}
	return r
}

func rehearse(t *testing.T, r backtest.Rehearsal, l alert.Limit) backtest.Rehearsed {
	t.Helper()
	x, err := r.Limit(t.Context(), l)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// In a quiet room nearly every failure is called, well before the limit and never for nothing;
// a nearer limit leaves less time.
func TestRehearsal(t *testing.T) {
	r := threeWeeks()
	for _, high := range []bool{false, true} {
		at := func(k float64) alert.Limit {
			if high {
				return alert.Limit{High: true, At: 23 + k}
			}
			return alert.Limit{At: 23 - k}
		}
		near, far := rehearse(t, r, at(1.5)), rehearse(t, r, at(3))
		for _, x := range []backtest.Rehearsed{near, far} {
			if x.Failures != 25 || x.Called < 22 || x.Called != len(x.Leads) || x.FalseCalls > 1 || x.Passed != 0 || !x.LearningUntil.IsZero() || x.Days < 20.5 || x.Days > 21 {
				t.Errorf("high %v: %+v", high, x)
			}
		}
		if near.Lead() < 10*time.Minute || far.Lead() <= near.Lead() {
			t.Errorf("high %v: %v ahead of the near limit, %v of the far one", high, near.Lead(), far.Lead())
		}
		if again := rehearse(t, r, at(3)); !reflect.DeepEqual(far, again) {
			t.Errorf("the same seed gives %+v and %+v", far, again)
		}
	}
}

// A limit inside the day's course is passed every day, and no call there is for nothing.
func TestRehearsalOfALimitThatIsPassed(t *testing.T) {
	if x := rehearse(t, threeWeeks(), alert.Limit{At: 22.7}); x.Passed < 19 || x.Passed > 23 || x.FalseCalls > 1 {
		t.Errorf("%+v", x)
	}
}

// No failure of up to 10 K reaches a limit 15 K away, and none begins before anything is
// learned.
func TestRehearsalWithoutAFailure(t *testing.T) {
	if x := rehearse(t, threeWeeks(), alert.Limit{At: 8}); x.Failures != 0 || x.Lead() != 0 {
		t.Errorf("%+v", x)
	}
	short := threeWeeks()
	for p := range short.Probes {
		short.Probes[p] = short.Probes[p][:24]
	}
	if x := rehearse(t, short, alert.Limit{At: 21}); x.Failures != 0 || x.Days != 0 || x.LearningUntil.Sub(short.Begin) != 155*time.Minute {
		t.Errorf("two hours: %+v", x)
	}
	if x := rehearse(t, backtest.Rehearsal{Begin: short.Begin, Failures: 25}, alert.Limit{At: 21}); x.Failures != 0 {
		t.Errorf("no probe: %+v", x)
	}
}

// Holes in the readings and a probe that died are no failure and end no rehearsal.
func TestRehearsalWithHoles(t *testing.T) {
	r := threeWeeks()
	for bin := range r.Probes[0] {
		if bin/200%4 == 3 {
			r.Probes[0][bin] = math.NaN()
		}
	}
	r.Probes[1] = r.Probes[1][:1000]
	if x := rehearse(t, r, alert.Limit{At: 21}); x.Failures != 25 || x.Called < 20 || x.Days > 18 {
		t.Errorf("%+v", x)
	}
}

// A probe that is read every quarter of an hour has measured as many days as one that is read
// more often.
func TestRehearsalOfSlowPolls(t *testing.T) {
	r := threeWeeks()
	r.Probes = r.Probes[:1]
	for bin := range r.Probes[0] {
		if bin%3 > 0 {
			r.Probes[0][bin] = math.NaN()
		}
	}
	if x := rehearse(t, r, alert.Limit{At: 21}); x.Failures != 25 || x.Called < 20 || x.Days < 20 || x.Days > 21 {
		t.Errorf("%+v", x)
	}
}

func TestRehearsalEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := threeWeeks().Limit(ctx, alert.Limit{At: 21}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

func BenchmarkRehearsal(b *testing.B) {
	r := threeWeeks()
	for b.Loop() {
		for _, l := range []alert.Limit{{At: 21}, {At: 18}, {High: true, At: 25}, {High: true, At: 28}} {
			if _, err := r.Limit(context.Background(), l); err != nil {
				b.Fatal(err)
			}
		}
	}
}
