package alert_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// person is the state of an alarm by the words of its documentation: what holds,
// what was done about it, and nothing of how either is kept.
type person struct {
	holds, seen, unseen bool // unseen: it ended before anybody had seen it
	quiet               time.Time
	hidden, off         bool
}

func (p person) aside() bool { return p.off || p.hidden || !p.quiet.IsZero() }

func (p person) state() alert.State {
	switch {
	case p.off:
		return alert.OutOfService
	case p.hidden:
		return alert.Suppressed
	case !p.quiet.IsZero():
		return alert.Shelved
	case p.holds && p.seen:
		return alert.Acknowledged
	case p.holds:
		return alert.Active
	case p.unseen:
		return alert.Returned
	}
	return alert.Normal
}

// Every state, with all that people and logic may do at random between readings,
// some of which are missing: the states are those of the reference, each event goes
// on where the last ended, and neither a missing value nor anything a person does
// begins or ends what holds.
func TestStatesAgainstTheNaiveReference(t *testing.T) {
	visits := map[alert.State]int{}
	for total, seed := walk, uint64(0); total > 0; seed++ {
		r := rand.New(rand.NewPCG(seed, 11))
		limit := alert.Limit{High: true, At: 32, Deadband: 0.5, OnDelay: time.Duration(r.IntN(4)) * time.Minute, OffDelay: time.Duration(r.IntN(4)) * time.Minute}
		a, n, p := alert.New(room, limit), naive{limit: limit, since: -1}, person{}
		at, v := time.Duration(0), 32.0
		for i := 0; i < 500 && total > 0; i, total = i+1, total-1 {
			at += time.Duration(r.IntN(3)+1) * time.Minute
			now, before := start.Add(at), a
			var told []alert.Event
			a, told = a.Tick(now)
			if !p.quiet.IsZero() && !now.Before(p.quiet) {
				p.quiet = time.Time{}
			}
			var events []alert.Event
			what := r.IntN(20)
			missing := what > 6 && r.IntN(4) == 0
			switch what {
			case 0:
				a, events = a.Acknowledge(now, "keeper")
				if p.holds && !p.seen || p.unseen {
					p.seen, p.unseen = true, false
				}
			case 1:
				until, err := now.Add(time.Duration(r.IntN(30)+1)*time.Minute), error(nil)
				if a, events, err = a.Shelve(now, until); err != nil {
					t.Fatal(err)
				}
				p.quiet, p.unseen = until, false
			case 2:
				a, events = a.Unshelve(now)
				p.quiet = time.Time{}
			case 3:
				a, events = a.Suppress(now)
				p.hidden, p.unseen = true, false
			case 4:
				a, events = a.Unsuppress(now)
				p.hidden = false
			case 5:
				a, events = a.OutOfService(now)
				p.off, p.unseen = true, false
			case 6:
				a, events = a.InService(now)
				p.off = false
			default:
				if r.IntN(3) == 0 {
					v = 31 + 0.25*float64(r.IntN(7))
				}
				a, events = a.Observe(now, v, !missing)
				n.observe(seen{at: at, v: v, known: !missing})
				switch {
				case n.is && !p.holds:
					p.holds, p.seen, p.unseen = true, false, false
				case !n.is && p.holds:
					p.holds, p.unseen = false, !p.seen && !p.aside()
				}
			}
			if a.True != p.holds || a.State != p.state() {
				t.Fatalf("seed %d, step %d, action %d: %s and %v, the reference says %s and %v", seed, i, what, a.State, a.True, p.state(), p.holds)
			}
			if (what <= 6 || missing) && a.True != before.True {
				t.Fatalf("seed %d, step %d: action %d, missing %v, made %v of %v", seed, i, what, missing, a.True, before.True)
			}
			from := before.State
			for _, e := range append(told, events...) {
				if e.From != from || e.From == e.To {
					t.Fatalf("seed %d, step %d: an event from %s to %s, where it stood at %s", seed, i, e.From, e.To, from)
				}
				from = e.To
			}
			if from != a.State {
				t.Fatalf("seed %d, step %d: the events end at %s, it stands at %s", seed, i, from, a.State)
			}
			visits[a.State]++
		}
	}
	t.Logf("%d steps: %v", walk, visits)
	for _, s := range []alert.State{alert.Normal, alert.Active, alert.Acknowledged, alert.Returned, alert.Shelved, alert.Suppressed, alert.OutOfService} {
		if visits[s] < walk/200 {
			t.Errorf("the walk was %s at %d steps: too few to say anything", s, visits[s])
		}
	}
}
