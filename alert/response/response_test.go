package response_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert/response"
)

var start = time.Date(2026, 4, 2, 12, 0, 0, 0, time.UTC)

// course feeds fifty minutes of readings, each half minute, of a probe at 24 C with a change at
// half an hour.
func course(change func(minutes float64) float64) (*response.Response, time.Time) {
	var r response.Response
	at := start
	for ; at.Before(start.Add(50 * time.Minute)); at = at.Add(30 * time.Second) {
		v, noise := 24.0, 0.03*math.Sin(float64(at.Unix()))
		if since := at.Sub(start.Add(30 * time.Minute)).Minutes(); since > 0 {
			v += change(since)
		}
		r.Observe(at, v+noise)
	}
	return &r, at
}

// A probe that is moved jumps; what a heater, a door or the sun does is no step.
func TestStep(t *testing.T) {
	for name, c := range map[string]struct {
		change func(minutes float64) float64
		want   float64 // K; 0: no step
	}{
		"moved":                  {func(float64) float64 { return 1.2 }, 1.2},
		"moved, slow probe":      {func(m float64) float64 { return -2 * (1 - math.Exp(-m)) }, -2},
		"moved by little":        {func(float64) float64 { return 0.7 }, 0},
		"heater of a small box":  {func(m float64) float64 { return -8 * (1 - math.Exp(-m/20)) }, 0},
		"heater of a room":       {func(m float64) float64 { return -10 * (1 - math.Exp(-m/120)) }, 0},
		"door for five minutes":  {func(m float64) float64 { return -3 * min(1, m/2) * math.Exp(-max(0, m-5)/8) }, 0},
		"window for ten minutes": {func(m float64) float64 { return -3 * min(1, m/10) * math.Exp(-max(0, m-10)/40) }, 0},
	} {
		r, now := course(c.change)
		got, found := r.Step(now)
		if found != (c.want != 0) || math.Abs(got.Kelvin-c.want) > 0.1 {
			t.Errorf("%s: a step of %.2f K (%v), want %.2f", name, got.Kelvin, found, c.want)
		}
		if off := got.At.Sub(start.Add(30 * time.Minute)); found && (off < 0 || off > 6*time.Minute) {
			t.Errorf("%s: at %s", name, got.At)
		}
		if _, stale := r.Step(now.Add(11 * time.Minute)); stale {
			t.Errorf("%s: a step without a reading for ten minutes", name)
		}
	}
}

// A step is known for hours while the temperature is level after it, and no longer.
func TestStepHolds(t *testing.T) {
	for name, c := range map[string]struct {
		later func(hours float64) float64
		want  float64 // hours
	}{
		"level":         {func(float64) float64 { return 0 }, 12},
		"goes on":       {func(h float64) float64 { return 0.1 * h }, 2}, // by 15 % of the step
		"comes back":    {func(h float64) float64 { return -0.2 * max(0, h-3) }, 4},
		"is moved back": {func(h float64) float64 { return -1.4 * min(1, math.Floor(h/3)) }, 3},
	} {
		r, at := course(func(float64) float64 { return 1.4 })
		known := at
		for end := at.Add(13 * time.Hour); at.Before(end); at = at.Add(time.Minute) {
			r.Observe(at, 25.4+c.later(at.Sub(start).Hours()-50.0/60)+0.03*math.Sin(float64(at.Unix())))
			if s, ok := r.Step(at); ok && s.Kelvin > 0 {
				known = at
			}
		}
		if got := known.Sub(start.Add(30 * time.Minute)).Hours(); math.Abs(got-c.want) > 0.6 {
			t.Errorf("%s: known for %.1f h, want %.0f", name, got, c.want)
		}
	}
}

// For some minutes it is not known whether what changed at once is level.
func TestMayJump(t *testing.T) {
	for name, c := range map[string]struct {
		after func(minutes float64) float64 // the change, in K
		want  []bool                        // 1, 5 and 20 min later
	}{
		"a jump":             {func(float64) float64 { return 1.5 }, []bool{true, true, false}},
		"a dead heater":      {func(m float64) float64 { return -10 * (1 - math.Exp(-m/120)) }, []bool{false, false, false}},
		"a jump too small":   {func(float64) float64 { return 0.6 }, []bool{false, false, false}},
		"a jump and back":    {func(m float64) float64 { return 1.5 * max(0, 1-m/4) }, []bool{true, false, false}},
		"an open lid, small": {func(m float64) float64 { return -5 * (1 - math.Exp(-m/10)) }, []bool{false, false, false}},
	} {
		var r response.Response
		at := start
		for ; at.Before(start.Add(30 * time.Minute)); at = at.Add(10 * time.Second) {
			r.Observe(at, 24)
		}
		began := at
		for i, minutes := range []float64{1, 5, 20} {
			for ; at.Sub(began).Minutes() < minutes; at = at.Add(10 * time.Second) {
				r.Observe(at, 24+c.after(at.Sub(began).Minutes()))
			}
			if got := r.MayJump(at); got != c.want[i] {
				t.Errorf("%s: after %.0f min %t, want %t", name, minutes, got, c.want[i])
			}
		}
	}
}

func TestChange(t *testing.T) {
	r, now := course(func(m float64) float64 { return -m / 20 })
	if got := r.Change(now, 10*time.Minute); math.Abs(got+0.5) > 0.06 {
		t.Errorf("%.2f K in ten minutes, want -0.5", got)
	}
	if got := r.Change(now, 30*time.Minute); math.Abs(got+1) > 0.08 {
		t.Errorf("%.2f K in half an hour, want -1", got)
	}
	if got := r.Change(now, time.Hour); !math.IsNaN(got) {
		t.Errorf("%.2f K in an hour, of which fifty minutes are known", got)
	}
	r.Observe(start, 24) // the clock was set back
	if got := r.Change(start, 10*time.Minute); !math.IsNaN(got) {
		t.Errorf("%.2f K after one reading", got)
	}
}
