package thermal

import (
	"math"
	"testing"
	"time"
)

// zone is a history of so many days to start, warmed as a function of the day
// has it.
func zone(days int, celsius func(day int) float64) ZoneHistory {
	var h ZoneHistory
	for d := -days + 1; d <= 0; d++ {
		h = append(h, Day{Start: start.Truncate(24*time.Hour).AddDate(0, 0, d), Mean: celsius(d), Range: 2})
	}
	return h
}

func steadyAt(celsius float64) func(int) float64 { return func(int) float64 { return celsius } }

func climateOf(t *testing.T, h ZoneHistory, setPoint, usual float64) Climate {
	t.Helper()
	c, ok := h.Climate(setPoint, usual, start)
	if !ok {
		t.Fatal("no climate")
	}
	return c
}

// Two hot days are no season: the set point, or what is usual, holds them back.
func TestEarlyDaysAreNotDrawnOn(t *testing.T) {
	hot := zone(2, steadyAt(28))
	c := climateOf(t, hot, 23, math.NaN())
	near(t, "mean by the set point after two hot days", c.Mean, (3*23+2*28)/5.0, 1e-9)
	c = climateOf(t, hot, math.NaN(), 23.3)
	if !(c.Mean > 24 && c.Mean < 27.5) {
		t.Errorf("mean by what is usual after two hot days is %.2f", c.Mean)
	}
	if c.SD < 0.9 {
		t.Errorf("two days are known to %.2f K", c.SD)
	}
	near(t, "daily range", c.DailyRange, 2, 1e-9)
}

func TestNothingKnownIsNoClimate(t *testing.T) {
	if c, ok := (ZoneHistory{}).Climate(math.NaN(), math.NaN(), start); ok || !math.IsNaN(c.Mean) {
		t.Errorf("%+v from nothing", c)
	}
	c := climateOf(t, nil, 23, math.NaN())
	if c.Mean != 23 || c.SD != 1 {
		t.Errorf("%+v from a set point of 23", c)
	}
	c = climateOf(t, nil, math.NaN(), 28)
	if c.Mean != 28 || c.SD != 2.5 {
		t.Errorf("%+v from what is usual", c)
	}
}

// A zone that never strayed is known better than one that wandered, and either
// by how it did.
func TestSpreadIsHowWrongItWasBefore(t *testing.T) {
	steady := climateOf(t, zone(120, steadyAt(23)), math.NaN(), math.NaN())
	wandering := climateOf(t, zone(120, func(d int) float64 { return 23 + 3*math.Sin(float64(d)/20) }), math.NaN(), math.NaN())
	if !(steady.SD < 1 && wandering.SD > 1.4) {
		t.Errorf("spread of a steady zone %.2f K, of a wandering one %.2f", steady.SD, wandering.SD)
	}
	near(t, "mean of the steady zone", steady.Mean, 23, 1e-9)
}

// Earlier years show that spring warms: the days to come follow them, this
// year's departure dying down.
func TestSeasonFollowsEarlierYears(t *testing.T) {
	spring := func(d int) float64 { return 22 + 3*math.Sin(2*math.Pi*float64(d)/365.2425) }
	h := zone(3*365, func(d int) float64 {
		if d > -180 {
			return spring(d) + 1
		}
		return spring(d)
	})
	c := climateOf(t, h, math.NaN(), 23.3)
	if len(c.Days) < 100 {
		t.Fatalf("%d days of a course", len(c.Days))
	}
	week := climateOf(t, h[len(h)-180:], math.NaN(), math.NaN())
	for _, d := range []int{10, 30, 60} {
		actual := spring(d) + 1
		if off, last := math.Abs(c.Days[d-1]-actual), math.Abs(week.Mean-actual); !(off < last) {
			t.Errorf("in %d days: %.2f off by the course, %.2f by the last week", d, off, last)
		}
	}
	if c.SD > 1 {
		t.Errorf("after three like years the spread is %.2f K", c.SD)
	}
	one := climateOf(t, h[len(h)-500:], math.NaN(), math.NaN())
	if one, more := one.Days[59]-one.Days[0], c.Days[59]-c.Days[0]; !(one > 0 && one < more) {
		t.Errorf("one year foretells a rise of %.2f K, two years %.2f", one, more)
	}
}

// One night with a window open, in whichever of the last days it lies and also where it lies
// in two of them, does not bend the climate to come. A season that warms is still followed.
func TestOneNightDoesNotBendTheClimate(t *testing.T) {
	before := climateOf(t, zone(60, steadyAt(23)), math.NaN(), 23.3)
	for back := range 7 {
		for _, of := range []int{1, 2} {
			h := zone(60, func(d int) float64 {
				if d <= -back && d > -back-of {
					return 23 - 4/float64(of)
				}
				return 23
			})
			c := climateOf(t, h, math.NaN(), 23.3)
			if math.Abs(c.Mean-before.Mean) > 0.02 || math.Abs(c.Days[0]-before.Days[0]) > 0.02 {
				t.Errorf("%d days after a night in %d days the climate is %.2f, then %.2f, without it %.2f and %.2f", back, of, c.Days[0], c.Mean, before.Days[0], before.Mean)
			}
		}
	}
	warming := climateOf(t, zone(60, func(d int) float64 { return 23 + 0.1*float64(d) }), math.NaN(), math.NaN())
	near(t, "the middle of a week that warms by 0.1 K a day", warming.Mean, 23-0.3, 1e-9)
}
