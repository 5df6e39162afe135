package sensor

import (
	"math"
	"slices"
	"testing"
	"time"
)

func TestOdd(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		celsius []float64
		want    []int
	}{
		{nil, nil},
		{[]float64{24}, nil},
		{[]float64{24, 27.6}, nil},
		{[]float64{24, 28.1}, []int{0, 1}},
		{[]float64{24, 28.3, 24.2}, []int{1}},
		{[]float64{24, nan, 28.1, 24.2, 23.8}, []int{2}},
		{[]float64{nan, 24}, nil},
	} {
		if got := Odd(c.celsius, Apart); !slices.Equal(got, c.want) {
			t.Errorf("of %v odd are %v, want %v", c.celsius, got, c.want)
		}
	}
}

func TestSaturatedIsASignAndNoFault(t *testing.T) {
	var s Screen
	step := func(at time.Duration, boot uint32, h float64) bool {
		var r Reading
		s, r = s.Step(Reading{Stamp: Stamp{Boot: boot, Uptime: at}, Measurement: Measurement{Celsius: 24 + .01*float64(int(at.Minutes())%3), Humidity: h}})
		if r.Cause != "" {
			t.Fatalf("at %v a humidity of %v is refused as %s", at, h, r.Cause)
		}
		return s.Saturated()
	}
	for _, c := range []struct {
		at   time.Duration
		boot uint32
		h    float64
		want bool
	}{
		{0, 1, .5, false}, {time.Minute, 1, .97, true}, {2 * time.Minute, 1, 1.03, true}, {3 * time.Minute, 1, .9, false},
		{60*time.Hour + 0*time.Minute, 1, .9, false}, // damp since the first minute
		{60*time.Hour + time.Minute, 1, .9, true}, {61 * time.Hour, 1, math.NaN(), true},
		{62 * time.Hour, 1, .79, false}, {63 * time.Hour, 1, .9, false},
		{time.Hour, 2, .9, false}, {61 * time.Hour, 2, .9, true},
	} {
		if got := step(c.at, c.boot, c.h); got != c.want {
			t.Errorf("boot %d, %v, humidity %v: saturated %v, want %v", c.boot, c.at, c.h, got, c.want)
		}
	}
}

func TestStale(t *testing.T) {
	s, _ := Screen{}.Step(Reading{Stamp: Stamp{Boot: 1, Uptime: time.Hour}, Measurement: Measurement{Celsius: 24}})
	limit := 30 * time.Second
	for _, c := range []struct {
		s    Screen
		at   Stamp
		want bool
	}{
		{s, Stamp{1, time.Hour + limit}, false}, {s, Stamp{1, time.Hour + limit + 1}, true},
		{s, Stamp{2, limit}, false}, {s, Stamp{2, limit + 1}, true},
		{Screen{}, Stamp{1, limit}, false}, {Screen{}, Stamp{1, limit + 1}, true},
	} {
		if got := c.s.Stale(c.at, limit); got != c.want {
			t.Errorf("at %v stale is %v, want %v", c.at, got, c.want)
		}
	}
}
