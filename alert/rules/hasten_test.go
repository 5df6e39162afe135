package rules

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// What goes to a limit faster now than what foretold it passes it sooner, and at most then.
func TestHasten(t *testing.T) {
	now := time.Date(2026, 5, 20, 0, 0, 0, 0, time.UTC)
	foretold := alert.Projection{Limit: 33, PerHour: 4, At: now.Add(time.Hour), Earliest: now.Add(50 * time.Minute), Latest: now.Add(2 * time.Hour)}
	for _, c := range []struct {
		name         string
		lately, want float64 // K an hour; minutes until the limit
	}{
		{"as fast as foretold", 4, 60},
		{"hardly faster", 5.5, 60},
		{"faster", 6.5, 60 * 2 / 6.5},
		{"much faster", 12, 10},
		{"the other way", -12, 60},
		{"not known", math.NaN(), 60},
	} {
		p := Probe{Celsius: 31, LatelyKelvin: c.lately * Lately.Hours()}
		got := p.hasten(now, foretold)
		if left := got.At.Sub(now).Minutes(); math.Abs(left-c.want) > 0.01 || got.Earliest.After(got.At) || !got.Latest.Equal(foretold.Latest) {
			t.Errorf("%s: in %.1f min, from %v to %v; want %.1f", c.name, left, got.Earliest, got.Latest, c.want)
		}
	}
	slow := foretold
	slow.PerHour = 1
	if got := (&Probe{Celsius: 31, LatelyKelvin: 3.5 * Lately.Hours()}).hasten(now, slow); !got.At.Equal(slow.At) {
		t.Errorf("3.5 K an hour is no fast change, and the limit is passed at %v", got.At)
	}
}
