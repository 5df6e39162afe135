package daemon

import (
	"errors"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/rehearsal"
)

// A rehearsal is made once, beside its callers, and again when it is old, failed or of other
// limits.
func TestRehearsalsAreKept(t *testing.T) {
	now := time.Date(2026, 4, 2, 12, 0, 0, 0, time.UTC)
	r := newRehearsals(&loop{stopped: make(chan struct{})}, func() time.Time { return now })
	release, made := make(chan struct{}, 9), 0
	var fails error
	query := func(low float64) rehearsal.Query {
		return rehearsal.Query{
			Zone: "room", To: now, Probes: []string{"air"}, Limits: []rehearsal.Limit{{Band: "wanted", Limit: alert.Limit{At: low}}},
			Means: func(string, time.Time, time.Time, time.Duration) ([]float64, error) {
				<-release
				made++
				return nil, fails
			},
		}
	}
	x := r.begin(query(20)) // it does not wait
	if y := r.begin(query(20)); y != x {
		t.Error("a second caller begins another while the first is made")
	}
	release <- struct{}{}
	<-x.done
	now = now.Add(rehearsalLasts - time.Second)
	if y := r.begin(query(20)); y != x || made != 1 {
		t.Errorf("made %d times within an hour", made)
	}
	other := r.begin(query(21))
	release <- struct{}{}
	if <-other.done; other == x || made != 2 {
		t.Errorf("other limits: made %d times", made)
	}
	now = now.Add(rehearsalLasts)
	fails = errors.New("the disk is gone")
	old := r.begin(query(21))
	release <- struct{}{}
	if <-old.done; old == other || old.err == nil {
		t.Errorf("an hour later: %v", old.err)
	}
	if y := r.begin(query(21)); y != old {
		t.Error("an error is not shown to the next caller")
	}
	now = now.Add(failedRehearsalLasts)
	again := r.begin(query(21))
	release <- struct{}{}
	if <-again.done; again == old {
		t.Error("one that failed is never made again")
	}
}

func TestRehearsalEndsWithTheStation(t *testing.T) {
	l := &loop{stopped: make(chan struct{})}
	r := newRehearsals(l, time.Now)
	close(l.stopped)
	probes := make([]string, 4)
	x := r.begin(rehearsal.Query{To: time.Now(), Probes: probes, Limits: make([]rehearsal.Limit, 100), Means: func(_ string, from, to time.Time, bin time.Duration) ([]float64, error) {
		return make([]float64, int(to.Sub(from)/bin)), nil
	}})
	if <-x.done; !errors.Is(x.err, errStopped) {
		t.Errorf("%v", x.err)
	}
}
