package alert_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/digest"
)

func TestShelvingLastsADayAtMost(t *testing.T) {
	a := alert.New(alert.Key{Kind: alert.TemperatureLow, Priority: alert.Warning, Zone: "room"}, alert.Limit{At: 20})
	for until, want := range map[time.Duration]bool{23 * time.Hour: true, 24 * time.Hour: true, 25 * time.Hour: false} {
		if _, _, err := a.Shelve(start, start.Add(until)); (err == nil) != want {
			t.Errorf("for %v: %v", until, err)
		}
	}
}

// A value on the limit is beyond it, and one step of any sensor away it is not.
func TestLimitHasSlackForRounding(t *testing.T) {
	for off, want := range map[float64]bool{0: true, 0.8e-9: true, 1.5e-9: false, 0.001: false} {
		if got := (alert.Limit{At: 24}).Beyond(24 + off); got != want {
			t.Errorf("%g above a low limit: beyond %t, want %t", off, got, want)
		}
		if got := (alert.Limit{High: true, At: 24}).Beyond(24 - off); got != want {
			t.Errorf("%g below a high limit: beyond %t, want %t", off, got, want)
		}
	}
}

// A digest has the bodies of its first twenty messages.
func TestDigestHasTwentyBodies(t *testing.T) {
	var parts []alert.Message
	for i := range 50 {
		parts = append(parts, alert.Message{ID: fmt.Sprintf("k/%d", i), Subject: "subject", Body: fmt.Sprintf("body %d.", i)})
	}
	d := digest.Of(parts)
	if n := strings.Count(d.Body, "body "); n != 20 {
		t.Errorf("%d bodies, want 20", n)
	}
	if n := strings.Count(d.Body, "subject"); n != 50 {
		t.Errorf("%d subjects, want 50", n)
	}
}

// Two means say nothing of an hour; three do.
func TestTrendNeedsThreeMeans(t *testing.T) {
	var tr alert.Trend
	for i, want := range []bool{false, false, true} {
		tr.Observe(start.Add(time.Duration(i)*25*time.Minute), 24-float64(i), true)
		if got := !math.IsNaN(tr.PerHour()); got != want {
			t.Errorf("after %d values: known %t, want %t", i+1, got, want)
		}
	}
}

// zigzag falls and wavers in a pattern that two-minute means keep, and that means of one or
// of four minutes show otherwise.
func zigzag(i int) float64 {
	return 24 - 0.01*float64(i) - 0.00008*float64(i*i) + []float64{0, 0.11, 0.02, -0.07, 0.05, -0.02, 0.13, -0.09, 0.04, 0.01, -0.12}[i*i%11]
}

// The times of a projection follow from the trend's means, from the spread of its slopes
// and from how fast a change dies away. A change of any of these changes a time here.
func TestExtrapolateTable(t *testing.T) {
	var tr alert.Trend
	v := 0.0
	for i := range 61 {
		v = zigzag(i)
		tr.Observe(start.Add(time.Duration(i)*time.Minute), v, true)
	}
	now := start.Add(time.Hour)
	if got := tr.PerHour(); math.Abs(got+0.8832) > 1e-4 {
		t.Errorf("the trend is %.4f K an hour", got)
	}
	for _, c := range []struct {
		below                float64 // K; the limit, below the value
		at, earliest, latest float64 // min; latest 0: perhaps not at all
	}{
		{0.1, 6.92, 4.06, 7.92},
		{0.3, 21.63, 12.19, 25.54},
		{0.8, 64.70, 32.50, 85.89},
		{1.5, 150.29, 60.94, 381.75},
	} {
		p, ok := tr.Extrapolate(now, v, alert.Limit{At: v - c.below})
		if !ok {
			t.Errorf("%g K below: nothing", c.below)
			continue
		}
		latest := 0.0
		if !p.Latest.IsZero() {
			latest = p.Latest.Sub(now).Minutes()
		}
		at, earliest := p.At.Sub(now).Minutes(), p.Earliest.Sub(now).Minutes()
		if math.Abs(at-c.at) > 0.01 || math.Abs(earliest-c.earliest) > 0.01 || math.Abs(latest-c.latest) > 0.01 {
			t.Errorf("%g K below: at %.2f, earliest %.2f, latest %.2f min; want %.2f, %.2f, %.2f", c.below, at, earliest, latest, c.at, c.earliest, c.latest)
		}
	}
}
