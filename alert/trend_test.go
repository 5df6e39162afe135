package alert_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

func TestTrend(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name  string
		every time.Duration
		most  float64 // error, K per hour
		value func(hours float64) float64
		want  float64
	}{
		{"a line", 10 * time.Second, 1e-6, func(h float64) float64 { return 24 - 1.5*h }, -1.5},
		{"a line, every quarter hour", 15 * time.Minute, 1e-6, func(h float64) float64 { return 24 + 0.7*h }, 0.7},
		{"steady", 10 * time.Second, 1e-6, func(float64) float64 { return 24 }, 0},
		{"noise of 0.1 K on a line", 10 * time.Second, 0.05, func(h float64) float64 { return 24 + h + 0.1*r.NormFloat64() }, 1},
		{"a wild value in ten", 10 * time.Minute, 0.3, func(h float64) float64 {
			if int(h*6)%10 == 4 {
				return 85
			}
			return 24 + h
		}, 1},
		{"a thermostat's cycle of 1 K every 20 minutes", 10 * time.Second, 0.6, func(h float64) float64 { return 24 + 0.5*math.Sin(2*math.Pi*3*h) }, 0},
	} {
		var tr alert.Trend
		for at := time.Duration(0); at <= 3*time.Hour; at += c.every {
			tr.Observe(start.Add(at), c.value(at.Hours()), true)
		}
		if got := tr.PerHour(); !(math.Abs(got-c.want) <= c.most) {
			t.Errorf("%s: %.4f an hour, want %.4f give or take %.g", c.name, got, c.want, c.most)
		}
	}
}

// The rate is that of the moment when the newest mean began, whether somebody asks then or later.
func TestTrendIsTheSameWheneverItIsAsked(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var asked, later alert.Trend
	rates := 0
	for i := range 6 * 60 * 6 {
		at, v := start.Add(time.Duration(i)*10*time.Second), 24+0.3*r.NormFloat64()
		known := i%700 < 600 // and holes of a quarter hour
		asked.Observe(at, v, known)
		later.Observe(at, v, known)
		rate := asked.PerHour()
		if i%11 != 0 {
			continue
		}
		if got := later.PerHour(); got != rate && !(math.IsNaN(got) && math.IsNaN(rate)) {
			t.Fatalf("at %v: %v where it was not asked before, %v where it was", at, got, rate)
		}
		if rate != 0 && !math.IsNaN(rate) {
			rates++
		}
	}
	if rates < 50 {
		t.Errorf("%d rates compared", rates)
	}
}

func TestTrendSaysNothingOfTooLittle(t *testing.T) {
	var tr alert.Trend
	for m := range 20 {
		if tr.Observe(start.Add(time.Duration(m)*time.Minute), 24, true); !math.IsNaN(tr.PerHour()) {
			t.Errorf("after %d minutes: %v", m, tr.PerHour())
		}
	}
	tr.Observe(start.Add(20*time.Minute), 24, true)
	if tr.PerHour() != 0 {
		t.Errorf("after 20 minutes: %v", tr.PerHour())
	}
	for m := 21; m <= 90; m++ {
		tr.Observe(start.Add(time.Duration(m)*time.Minute), math.NaN(), m%2 == 0)
	}
	if !math.IsNaN(tr.PerHour()) {
		t.Errorf("70 minutes after the last value: %v", tr.PerHour())
	}
	// The clock was set back a year: it begins again.
	for m := range 60 {
		tr.Observe(start.AddDate(-1, 0, 0).Add(time.Duration(m)*time.Minute), 24+float64(m)/60, true)
	}
	if got := tr.PerHour(); !(math.Abs(got-1) < 1e-9) {
		t.Errorf("after the clock was set back: %v an hour, want 1", got)
	}
}

// A window is open for ten minutes, and the room comes back: while it rises it is not said to
// fall, nor that it will pass a limit.
func TestTrendIsNotSaidAgainstTheLastTenMinutes(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	var tr alert.Trend
	v, falling := 24.0, 0
	for m := range 180 {
		if m >= 90 && m < 100 {
			v -= 0.25
		} else {
			v += (24 - v) / 30
		}
		now := start.Add(time.Duration(m) * time.Minute)
		tr.Observe(now, v+0.02*r.NormFloat64(), true)
		rate := tr.PerHour()
		if m >= 98 && m < 102 && rate < 0 {
			falling++
		}
		if m < 108 || m > 140 {
			continue
		}
		if rate < 0 {
			t.Errorf("%d minutes after the window was shut, at %.1f C: %.1f K an hour", m-100, v, rate)
		}
		if p, ok := tr.Extrapolate(now, v, alert.Limit{At: 20}); ok {
			t.Errorf("%d minutes after the window was shut it passes 20 C at %v", m-100, p.At)
		}
	}
	if falling == 0 {
		t.Error("while the window is open the room does not fall")
	}
}

func BenchmarkTrend(b *testing.B) {
	var tr alert.Trend
	at := start
	for b.Loop() {
		at = at.Add(10 * time.Second)
		tr.Observe(at, 24, true)
	}
}
