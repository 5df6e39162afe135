package track_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/track"
)

var midnight = time.Date(2026, 4, 2, 0, 0, 0, 0, time.UTC)

// A day counts once twelve hours of it were measured: neither seven nor five do.
func TestMeasuredOfADay(t *testing.T) {
	for _, x := range []struct {
		long time.Duration
		want int
	}{{7 * time.Hour, 0}, {11*time.Hour + 50*time.Minute, 0}, {12 * time.Hour, 1}, {17 * time.Hour, 1}} {
		a := track.NewDailyClimate(gap)
		for at := midnight; !at.After(midnight.Add(x.long)); at = at.Add(10 * time.Minute) {
			a.Observe(thermal.Sample{At: at, Celsius: 25})
		}
		if got := a.History(midnight.Add(x.long)); len(got) != x.want {
			t.Errorf("%v measured: %d days, want %d", x.long, len(got), x.want)
		}
	}
}

// A span without a sample counts up to two hours, or up to the limit where that is longer.
func TestSpansOfAClimate(t *testing.T) {
	for _, x := range []struct {
		gap, every time.Duration
		want       int
	}{{gap, 2 * time.Hour, 1}, {gap, 3 * time.Hour, 0}, {3 * time.Hour, 3 * time.Hour, 1}} {
		a := track.NewDailyClimate(x.gap)
		for at := midnight; at.Before(midnight.Add(24 * time.Hour)); at = at.Add(x.every) {
			a.Observe(thermal.Sample{At: at, Celsius: 25})
		}
		if got := a.History(midnight.Add(24 * time.Hour)); len(got) != x.want {
			t.Errorf("a sample each %v, limit %v: %d days, want %d", x.every, x.gap, len(got), x.want)
		}
	}
}

// The last days are counted back from the hour of now, those before are of UTC. A zone's day
// is the median of its probes.
func TestDaysOfAZone(t *testing.T) {
	zone := track.NewDailyClimate(gap)
	var probes []*track.DailyClimate
	now := midnight.Add(7*time.Hour + 30*time.Minute)
	for i := range 3 {
		a, recent := track.NewDailyClimate(gap), track.NewDailyClimate(gap)
		celsius := []float64{20, 24, 40}[i]
		a.AddSpan(now.AddDate(0, 0, -12), 14*time.Hour, celsius, 10, 50)
		a.AddSpan(now.AddDate(0, 0, -1), 14*time.Hour, 99, 99, 99) // the readings say more
		for at := midnight.Add(-17 * time.Hour); !at.After(now); at = at.Add(10 * time.Minute) {
			recent.Observe(thermal.Sample{At: at, Celsius: celsius})
		}
		a.AddHours(recent)
		probes = append(probes, a)
	}
	zone.AddMedian(probes)
	got := zone.History(now)
	if len(got) != 2 || got[0].Mean != 24 || got[0].Range != 40 || !got[0].Start.Equal(midnight.AddDate(0, 0, -12)) {
		t.Fatalf("days %+v, want two, the first of 24 C", got)
	}
	if got[1].Mean != 24 || got[1].Range != 0 || !got[1].Start.Equal(midnight.Add(-17*time.Hour)) {
		t.Errorf("the last day is %+v, want 24 C from 24 hours before the last full hour on", got[1])
	}
}

// The last day holds one course of a day whatever the hour, so it stays as it is through a
// day that is like the one before.
func TestLastDaysDoNotWobble(t *testing.T) {
	a := track.NewDailyClimate(gap)
	for at := midnight; !at.After(midnight.AddDate(0, 0, 20)); at = at.Add(10 * time.Minute) {
		a.Observe(thermal.Sample{At: at, Celsius: 23 + 4*math.Sin(2*math.Pi*at.Sub(midnight).Hours()/24)})
		now := at.Add(time.Minute)
		if now.Before(midnight.AddDate(0, 0, 19)) {
			continue
		}
		got := a.History(now)
		if last := got[len(got)-1]; math.Abs(last.Mean-23) > 1e-3 || math.Abs(last.Range-8) > 1e-9 {
			t.Fatalf("%v after midnight the last day is %+v, want 23 C and a range of 8 K", now.Sub(midnight), last)
		}
		if len(got) < 18 || len(got) > 20 {
			t.Fatalf("%d days after %v", len(got), now.Sub(midnight))
		}
	}
}

// A climate that goes on after a stored sample counts the span from it, also when the
// clock was set.
func TestClimateGoesOn(t *testing.T) {
	a := track.NewDailyClimate(gap)
	a.Resume(thermal.Sample{At: midnight.Add(-time.Hour), Celsius: 25})
	a.Shift(time.Hour)
	for at := midnight.Add(time.Hour); !at.After(midnight.Add(12 * time.Hour)); at = at.Add(time.Hour) {
		a.Observe(thermal.Sample{At: at, Celsius: 25})
	}
	a.Observe(thermal.Sample{At: midnight, Celsius: 99}) // it is late
	if got := a.History(midnight.Add(12 * time.Hour)); len(got) != 1 || got[0].Mean != 25 || !a.Last().At.Equal(midnight.Add(12*time.Hour)) {
		t.Errorf("days %+v, last %v", got, a.Last())
	}
}
