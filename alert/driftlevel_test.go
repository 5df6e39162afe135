package alert_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// setback is a room whose thermostat lowers it by 3 K from 22:00 to 07:00 of its own clock.
type setback struct {
	place *time.Location
	v     float64
}

// step moves the room by a minute, with a time constant of 40 minutes.
func (s *setback) step(at time.Time) float64 {
	to := 24.5
	if h := at.In(s.place).Hour(); h >= 22 || h < 7 {
		to = 21.5
	}
	s.v += (to - s.v) / 40
	return s.v
}

// When the clocks change, a room whose thermostat follows them does the same at the same hour:
// nothing is called. By UTC it does it an hour early or late.
func TestDriftFollowsTheClockOfThePlace(t *testing.T) {
	place, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	for _, change := range []time.Time{time.Date(2026, 3, 29, 1, 0, 0, 0, time.UTC), time.Date(2026, 10, 25, 1, 0, 0, 0, time.UTC)} {
		byUTC := 0
		for _, clock := range []*time.Location{place, time.UTC} {
			room := setback{place, 24.5}
			rng := rand.New(rand.NewPCG(1, 2))
			low, high := alert.NewDrift(clock, alert.Limit{At: 20.5}), alert.NewDrift(clock, alert.Limit{High: true, At: 25.5})
			calls, was := 0, false
			for at := change.Add(-14 * 24 * time.Hour); at.Before(change.Add(7 * 24 * time.Hour)); at = at.Add(time.Minute) {
				v := room.step(at) + 0.03*rng.NormFloat64()
				cold, warm := low.Observe(at, v, true), high.Observe(at, v, true)
				is := cold || warm
				if is && !was && at.After(change) {
					calls++
				}
				was = is
			}
			if clock == place && calls > 0 {
				t.Errorf("after the change of %v: %d calls by the clock of the place", change, calls)
			} else if clock == time.UTC {
				byUTC += calls
			}
		}
		if byUTC == 0 {
			t.Errorf("after the change of %v: no call by UTC: the room does not show the fault", change)
		}
	}
}

// A window or a door that is opened for some minutes, and the way back from it, is no drift
// towards the other end, be it the first time.
func TestComingBackFromAWindowIsNoDrift(t *testing.T) {
	for _, c := range []struct {
		depth   float64       // K
		open    time.Duration // from then on it comes back
		back    time.Duration // time constant
		between time.Duration
		margin  float64 // K from the usual to the limit
	}{
		{2.5, 10 * time.Minute, 20 * time.Minute, 24 * time.Hour, 1.5},
		{3, 10 * time.Minute, 40 * time.Minute, 24 * time.Hour, 1.2},
		{3, 15 * time.Minute, 10 * time.Minute, 7 * 24 * time.Hour, 1},
		{3, 15 * time.Minute, 45 * time.Minute, 7 * 24 * time.Hour, 1},
	} {
		for _, high := range []bool{true, false} {
			sign := 1.0
			if !high {
				sign = -1
			}
			rng := rand.New(rand.NewPCG(3, 4))
			d := alert.NewDrift(time.UTC, alert.Limit{High: high, At: 24 + sign*c.margin})
			v, first := 0.0, 6*24*time.Hour+10*time.Hour
			for at := time.Duration(0); at < first+5*c.between; at += time.Minute {
				if since := (at - first) % c.between; at >= first && since < c.open {
					v += (c.depth*1.2 - v) / (c.open.Minutes() / 2)
				} else {
					v -= v / c.back.Minutes()
				}
				day := 0.3 * math.Sin(2*math.Pi*at.Hours()/24)
				if d.Observe(start.Add(at), 24+day-sign*v+0.03*rng.NormFloat64(), true) {
					p, _ := d.Projection(0)
					t.Errorf("%+v, high %v: called %v after the first opening: %+v", c, high, at-first, p)
					break
				}
			}
		}
	}
}

// What is usual at an hour is the median of a week: one bad day does not move it, a new set
// point has done so after four.
func TestUsualIsTheMedianOfAWeek(t *testing.T) {
	d := alert.NewDrift(time.UTC, alert.Limit{At: 15})
	at := start
	day := func(v float64) float64 {
		for range 24 * 12 {
			d.Observe(at, v, true)
			at = at.Add(5 * time.Minute)
		}
		usual, _ := d.Usual(at.Add(2 * time.Hour))
		return usual
	}
	if usual, _ := d.Usual(at); !math.IsNaN(usual) {
		t.Errorf("before the first day %.1f is usual", usual)
	}
	for range 7 {
		day(24)
	}
	for i, want := range []float64{24, 24, 24, 22, 22} {
		if got := day(22); math.Abs(got-want) > 0.01 {
			t.Errorf("after %d days at 22: %.2f is usual, want %g", i+1, got, want)
		}
	}
}
