package alert_test

import (
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// A drift says when it will have learned enough, and then it has; it calls nothing before.
func TestLearningUntil(t *testing.T) {
	d := alert.NewDrift(time.UTC, alert.Limit{At: 20})
	begin := start.Truncate(5 * time.Minute)
	until := d.LearningUntil(begin)
	if d.Learned() || until.Sub(begin) < 2*time.Hour || until.Sub(begin) > 3*time.Hour {
		t.Fatalf("at the start it learns until %v", until)
	}
	for at := begin; at.Before(until.Add(time.Minute)); at = at.Add(time.Minute) {
		falling := 24 - at.Sub(begin).Hours()
		if d.Observe(at, falling, true) && !d.Learned() {
			t.Fatalf("it calls at %v, before it has learned", at)
		}
		if got := d.LearningUntil(at); !d.Learned() && got.Sub(until).Abs() > 5*time.Minute {
			t.Fatalf("at %v it learns until %v, first it was %v", at, got, until)
		}
		if early := until.Sub(at); d.Learned() && early > 5*time.Minute {
			t.Fatalf("it has learned at %v, %v early", at, early)
		}
	}
	if !d.Learned() {
		t.Errorf("it has not learned by %v", until)
	}
}

// While nothing is measured the time moves on.
func TestLearningWaitsForReadings(t *testing.T) {
	d := alert.NewDrift(time.UTC, alert.Limit{At: 20})
	for i := range 60 {
		d.Observe(start.Add(time.Duration(i)*time.Minute), 24, true)
	}
	soon, later := d.LearningUntil(start.Add(time.Hour)), d.LearningUntil(start.Add(3*time.Hour))
	if got := later.Sub(soon); got != 2*time.Hour {
		t.Errorf("two hours without readings move the end by %v", got)
	}
}
