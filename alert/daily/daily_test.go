package daily_test

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"example.com/ootherm/alert/daily"
)

var begin = time.Date(2026, 3, 1, 0, 0, 0, 0, time.UTC)

const day = 24 * time.Hour

// watch shows a trend hourly values of so many days and calls seen at each.
func watch(days int, of func(at time.Duration) float64, seen func(at time.Duration, t *daily.Trend)) {
	t := daily.New(time.UTC)
	for at := time.Duration(0); at < time.Duration(days)*day; at += 20 * time.Minute {
		t.Observe(begin.Add(at), of(at))
		seen(at, t)
	}
}

// A steady change is foretold days before the limit, at either end, with the time about right.
func TestSteadyChange(t *testing.T) {
	for _, high := range []bool{false, true} {
		sign := 1.0
		if high {
			sign = -1
		}
		rng := rand.New(rand.NewPCG(1, 1))
		of := func(at time.Duration) float64 { // 2 % a day from 75 % on, from the tenth day
			return 0.75 - sign*0.02*max(0, at.Hours()/24-10) + 0.02*math.Sin(2*math.Pi*at.Hours()/24) + 0.01*rng.NormFloat64()
		}
		limit := 0.75 - sign*0.15 // reached on day 17.5
		var first time.Duration
		var said daily.Coming
		watch(18, of, func(at time.Duration, x *daily.Trend) {
			if c, ok := x.Passes(begin.Add(at), limit, high); ok && first == 0 {
				first, said = at, c
			}
		})
		t.Logf("high %v: foretold on day %.1f for day %.1f: %+v", high, first.Hours()/24, said.At.Sub(begin).Hours()/24, said)
		if lead := 17.5 - first.Hours()/24; !(first > 0 && lead >= 1.5) {
			t.Errorf("high %v: foretold on day %.1f", high, first.Hours()/24)
		}
		if off := said.At.Sub(begin).Hours()/24 - 17.5; math.Abs(off) > 1 || math.Abs(said.PerDay+sign*0.02) > 0.006 {
			t.Errorf("high %v: off by %.1f days, %+v", high, off, said)
		}
	}
}

// What is no steady change foretells nothing: weather, a single wet day, a step that stays, a
// day's course, a change too slow to matter, and days that are not known.
func TestNoSteadyChange(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	noise := func() float64 { return 0.01 * rng.NormFloat64() }
	for name, of := range map[string]func(at time.Duration) float64{
		"level":        func(time.Duration) float64 { return 0.7 + noise() },
		"day's course": func(at time.Duration) float64 { return 0.7 + 0.1*math.Sin(2*math.Pi*at.Hours()/24) + noise() },
		"a step":       func(at time.Duration) float64 { return 0.75 - 0.1*step(at > 12*day) + noise() },
		"a dry day":    func(at time.Duration) float64 { return 0.7 - 0.08*step(at > 12*day && at < 13*day) + noise() },
		"a fall that turned": func(at time.Duration) float64 {
			return 0.75 - 0.02*min(3, max(0, at.Hours()/24-10)) + 0.005*max(0, at.Hours()/24-13) + noise()
		},
		"slow": func(at time.Duration) float64 { return 0.75 - 0.001*at.Hours()/24 + 0.1*noise() },
		"every other day missing": func(at time.Duration) float64 {
			if int(at.Hours()/24)%2 == 1 {
				return math.NaN()
			}
			return 0.75 - 0.01*at.Hours()/24
		},
	} {
		watch(25, of, func(at time.Duration, x *daily.Trend) {
			if c, ok := x.Passes(begin.Add(at), 0.6, false); ok {
				t.Fatalf("%s: foretold on day %.1f: %+v", name, at.Hours()/24, c)
			}
		})
	}
}

func step(on bool) float64 {
	if on {
		return 1
	}
	return 0
}

// Weather that comes and goes over days calls seldom: a count over made-up years, of calls that
// are three days apart, and of those after which the limit was passed within eight days.
func TestWeather(t *testing.T) {
	calls, passed, years := 0, 0, 10
	for seed := range years {
		rng, v, last, waits := rand.New(rand.NewPCG(uint64(seed), 4)), 0.0, -10*day, false
		watch(365, func(at time.Duration) float64 {
			v = v*0.999 + 0.0014*rng.NormFloat64() // 3 % in the mean, forgotten in two weeks
			return 0.7 + v + 0.03*math.Sin(2*math.Pi*at.Hours()/24)
		}, func(at time.Duration, x *daily.Trend) {
			if waits && at < last+8*day && v < -0.09 {
				passed, waits = passed+1, false
			}
			if _, ok := x.Passes(begin.Add(at), 0.6, false); ok {
				if at > last+3*day {
					calls, waits = calls+1, true
				}
				last = at
			}
		})
	}
	t.Logf("%d calls in %d years of weather; %d came true", calls, years, passed)
	if calls > 3*years {
		t.Errorf("%d calls in %d years", calls, years)
	}
}

// The limit that is passed is told by its own alarm.
func TestPastTheLimit(t *testing.T) {
	watch(30, func(at time.Duration) float64 { return 0.75 - 0.02*at.Hours()/24 }, func(at time.Duration, x *daily.Trend) {
		if c, ok := x.Passes(begin.Add(at), 0.6, false); ok && at > 9*day {
			t.Fatalf("on day %.1f: %+v", at.Hours()/24, c)
		}
	})
}
