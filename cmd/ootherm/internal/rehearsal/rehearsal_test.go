package rehearsal_test

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/rehearsal"
)

var now = time.Date(2026, 4, 2, 12, 3, 0, 0, time.UTC)

// query is a room at 23 C with so many hours of readings.
func query(hours int) rehearsal.Query {
	return rehearsal.Query{
		Zone: "room", To: now, Probes: []string{"air", "dummy"},
		Limits: []rehearsal.Limit{{Band: "wanted", Limit: alert.Limit{At: 21}}, {Band: "safe", Limit: alert.Limit{High: true, At: 27}}},
		Means: func(_ string, from, to time.Time, bin time.Duration) ([]float64, error) {
			all := make([]float64, int(to.Sub(from)/bin))
			for i := range all {
				all[i] = 23 + 0.05*float64(i%3)
				if len(all)-i > hours*12 {
					all[i] = math.NaN()
				}
			}
			return all, nil
		},
	}
}

func TestLook(t *testing.T) {
	x, err := query(21 * 24).Look(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if x.Zone != "room" || x.LearningUntil != nil || len(x.Limits) != 2 || !x.To.Equal(now.Truncate(5*time.Minute)) || x.To.Sub(x.From) != rehearsal.Past {
		t.Fatalf("%+v", x)
	}
	for i, side := range []string{"cold", "warm"} {
		l := x.Limits[i]
		if l.Side != side || l.Failures != 25 || l.Called < 23 || l.Lead == nil || *l.Lead < 600 || l.Days < 20 || l.FalseCalls != 0 || l.Passed != 0 {
			t.Errorf("%+v", l)
		}
	}
}

// An hour after the first reading nothing is learned, and the rehearsal says until when.
func TestLookWhileLearning(t *testing.T) {
	x, err := query(1).Look(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if x.LearningUntil == nil || x.LearningUntil.Sub(x.To) < time.Hour || x.LearningUntil.Sub(x.To) > 2*time.Hour {
		t.Errorf("learning until %v, at %v", x.LearningUntil, x.To)
	}
	if !x.From.Equal(x.To.Add(-time.Hour)) {
		t.Errorf("from %v, to %v: the readings of an hour", x.From, x.To)
	}
	if l := x.Limits[0]; l.Failures != 0 || l.Lead != nil || l.Days != 0 {
		t.Errorf("%+v", l)
	}
}

// Without a reading there is no span.
func TestLookAtNothing(t *testing.T) {
	if x, err := query(0).Look(t.Context()); err != nil || !x.From.Equal(x.To) {
		t.Errorf("%v to %v, %v", x.From, x.To, err)
	}
}

func TestLookFails(t *testing.T) {
	broken := query(1)
	broken.Means = func(string, time.Time, time.Time, time.Duration) ([]float64, error) {
		return nil, errors.New("the disk is gone")
	}
	if _, err := broken.Look(t.Context()); err == nil || err.Error() != "the disk is gone" {
		t.Errorf("%v", err)
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := query(1).Look(ended); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}
