package alert_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// naive is the condition of an alarm computed again from everything it ever saw,
// by the words of its documentation.
type naive struct {
	limit alert.Limit
	seen  []seen
	is    bool
	since int // the sample at which it last changed
}

type seen struct {
	at    time.Duration
	v     float64
	known bool
}

func (n *naive) observe(s seen) {
	n.seen = append(n.seen, s)
	if !s.known {
		return
	}
	past := func(v float64) bool { return v >= n.limit.At }
	back := func(v float64) bool { return v < n.limit.At-n.limit.Deadband }
	if !n.limit.High {
		past = func(v float64) bool { return v <= n.limit.At }
		back = func(v float64) bool { return v > n.limit.At+n.limit.Deadband }
	}
	var spent, delay time.Duration
	if n.is {
		delay = n.limit.OffDelay
		if !back(s.v) {
			return
		}
	} else {
		delay = n.limit.OnDelay
		if !past(s.v) {
			return
		}
	}
	// Backwards from now: add up what counts until something sets it to nothing.
	after, hole := s, false
	for i := len(n.seen) - 2; i > n.since; i-- {
		before := n.seen[i]
		if !before.known {
			hole = true
			continue
		}
		if n.is && !back(before.v) || !n.is && back(before.v) {
			break
		}
		if n.is && !hole || !n.is && past(before.v) && past(after.v) {
			spent += after.at - before.at
		}
		after, hole = before, false
	}
	if spent >= delay {
		n.is, n.since = !n.is, len(n.seen)-1
		n.seen = n.seen[n.since:] // what came before has no say any more
		n.since = 0
	}
}

// walk is how many random steps a reference is compared over.
const walk = 1_000_000

func TestAgainstTheNaiveReference(t *testing.T) {
	total, ended, raised := walk, 0, 0
	for seed := uint64(0); total > 0; seed++ {
		r := rand.New(rand.NewPCG(seed, 7))
		grain := time.Duration(r.IntN(60)+1) * time.Second
		limit := alert.Limit{High: r.IntN(2) == 0, At: 32, Deadband: float64(r.IntN(4)) * 0.25,
			OnDelay: time.Duration(r.IntN(12)) * grain, OffDelay: time.Duration(r.IntN(12)) * grain}
		a := alert.New(room, limit)
		n := naive{limit: limit, since: -1}
		gaps, wild := r.Float64()*0.5, r.Float64()*0.6
		at, v := time.Duration(0), 32.0
		for i := 0; i < 500 && total > 0; i, total = i+1, total-1 {
			at += time.Duration(r.IntN(3)+1) * grain
			if r.Float64() < wild {
				v += float64(r.IntN(5)-2) * 0.25
			}
			if r.Float64() < 0.05 {
				v = 32 + float64(r.IntN(9)-4)*0.25
			}
			s := seen{at: at, v: v, known: r.Float64() >= gaps}
			before := a
			var events []alert.Event
			a, events = a.Observe(start.Add(at), s.v, s.known)
			n.observe(s)
			if a.True != n.is {
				t.Fatalf("seed %d, step %d, %v after the start: alarm %v, reference %v (limit %+v)", seed, i, at, a.True, n.is, limit)
			}
			if !s.known && (len(events) != 0 || a.True != before.True || a.State != before.State) {
				t.Fatalf("seed %d, step %d: a missing value made %v of %v", seed, i, a.State, before.State)
			}
			want := alert.Normal
			switch {
			case n.is:
				want = alert.Active
			case before.True || before.State == alert.Returned:
				want = alert.Returned
			}
			if a.State != want {
				t.Fatalf("seed %d, step %d: %s, want %s", seed, i, a.State, want)
			}
			for _, e := range events {
				switch e.To {
				case alert.Active:
					raised++
				case alert.Returned:
					ended++
				}
			}
		}
	}
	t.Logf("%d steps: raised %d times, ended %d times", walk, raised, ended)
	if raised < 100 || ended < 100 {
		t.Errorf("the walk raised %d and ended %d alarms: too few to say anything", raised, ended)
	}
}
