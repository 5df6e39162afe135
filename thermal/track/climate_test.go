package track_test

import (
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
		a := track.NewDailyClimate(time.UTC, gap)
		for at := midnight; !at.After(midnight.Add(x.long)); at = at.Add(10 * time.Minute) {
			a.Observe(thermal.Sample{At: at, Celsius: 25})
		}
		if got := a.History(); len(got) != x.want {
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
		a := track.NewDailyClimate(nil, x.gap)
		for at := midnight; at.Before(midnight.Add(24 * time.Hour)); at = at.Add(x.every) {
			a.Observe(thermal.Sample{At: at, Celsius: 25})
		}
		if got := a.History(); len(got) != x.want {
			t.Errorf("a sample each %v, limit %v: %d days, want %d", x.every, x.gap, len(got), x.want)
		}
	}
}

// Days are counted where the station is; a zone's day is the median of its probes.
func TestDaysOfAZone(t *testing.T) {
	place := time.FixedZone("east", 6*3600)
	zone := track.NewDailyClimate(place, gap)
	var probes []*track.DailyClimate
	for i := range 3 {
		a := track.NewDailyClimate(place, gap)
		a.AddSpan(time.Date(2026, 4, 2, 20, 0, 0, 0, time.UTC), 14*time.Hour, []float64{20, 24, 40}[i], 10, 50)
		probes = append(probes, a)
	}
	zone.AddMedian(probes)
	got := zone.History()
	if len(got) != 1 || got[0].Mean != 24 || got[0].Range != 40 || !got[0].Start.Equal(time.Date(2026, 4, 3, 0, 0, 0, 0, place)) || zone.Place() != place {
		t.Errorf("days %+v, want 24 C on 3 April, where it is six hours later", got)
	}
}

// A climate that goes on after a stored sample counts the span from it, also when the
// clock was set.
func TestClimateGoesOn(t *testing.T) {
	a := track.NewDailyClimate(time.UTC, gap)
	a.Resume(thermal.Sample{At: midnight.Add(-time.Hour), Celsius: 25})
	a.Shift(time.Hour)
	for at := midnight.Add(time.Hour); !at.After(midnight.Add(12 * time.Hour)); at = at.Add(time.Hour) {
		a.Observe(thermal.Sample{At: at, Celsius: 25})
	}
	a.Observe(thermal.Sample{At: midnight, Celsius: 99}) // it is late
	if got := a.History(); len(got) != 1 || got[0].Mean != 25 || !a.Last().At.Equal(midnight.Add(12*time.Hour)) {
		t.Errorf("days %+v, last %v", got, a.Last())
	}
}
