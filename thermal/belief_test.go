package thermal

import (
	"math"
	"testing"
	"time"
)

// The curve's tangent at the usual temperature is the line, in level and slope.
func TestLineTouchesTheCurve(t *testing.T) {
	b := gecko()
	curve, line := b.Rate(), b.Line()
	near(t, "rate at the usual temperature", line.PerDay(23.3), curve.PerDay(23.3), 1e-12)
	slope := func(r Rate) float64 { return (r.PerDay(23.31) - r.PerDay(23.29)) / 0.02 }
	near(t, "slope there", slope(line), slope(curve), 1e-6)
}

// A duration felt is the same told as a steady temperature and as an exposure,
// through two rooms too.
func TestFeltIsAsGoodAsSteady(t *testing.T) {
	b := gecko()
	x := felt(24, 95)
	told := b.Learn(Observed{Days: 95, Celsius: 24, Own: true, Eggs: 2})
	got := b.Learn(Observed{Days: 95, Felt: &x, Own: true, Eggs: 2})
	near(t, "level", got.LogDays, told.LogDays, 1e-6)
	near(t, "house", got.House, told.House, 1e-6)
	// Half the way in a cool room: what it would have taken all the way is learned.
	moved := felt(21, 60).Plus(felt(25, 40))
	cool := b.Learn(Observed{Days: 100, Felt: &moved, Own: true, Eggs: 2})
	if logDays, sd := cool.Predict(Observed{Felt: &moved, Own: true}); !(math.Abs(math.Exp(logDays)-100) < 6 && sd < 0.1) {
		t.Errorf("after a hatch at 100 d the same moves are foretold to take %.1f d give or take %.3f", math.Exp(logDays), sd)
	}
}

// Daily swings speed cool eggs up: the day is integrated, not its mean.
func TestDailyRangeIsIntegrated(t *testing.T) {
	b := gecko()
	steady, _ := b.Predict(Observed{Celsius: 20})
	swinging, _ := b.Predict(Observed{Celsius: 20, DailyRange: 8})
	if swinging >= steady {
		t.Errorf("%.1f d steady, %.1f d swinging", math.Exp(steady), math.Exp(swinging))
	}
}

// The breeder's own hatches move the house; a dam's own move her, by no more than
// half the scatter of an egg allows.
func TestOwnHatchesMoveHouseAndDam(t *testing.T) {
	late := func(dam bool) Belief {
		b := gecko()
		for range 8 {
			b = b.Learn(Observed{Days: 110, Celsius: 23.3, Own: true, SameDam: dam, Eggs: 2})
		}
		return b
	}
	hers, others := late(true), late(false)
	if hers.Own != 8 || hers.References != 1 {
		t.Errorf("%d own hatches and %d references", hers.Own, hers.References)
	}
	if !(hers.House > 0.01 && hers.Dam > 0 && hers.Dam < DamSD) {
		t.Errorf("eight late hatches: house %.3f, dam %.3f", hers.House, hers.Dam)
	}
	if others.Dam != 0 {
		t.Errorf("other dams' hatches moved this one by %.3f", others.Dam)
	}
	_, _, high := hers.Interval(23.3)
	_, _, wide := gecko().Interval(23.3)
	low, mid, _ := hers.Interval(23.3)
	if mid < 105 || mid > 111 || (high-low)/mid > 0.25 {
		t.Errorf("%.0f d (%.0f-%.0f), had been to %.0f", mid, low, high, wide)
	}
}

// One date noted wrong by a month does not carry the belief away.
func TestOneWrongDateIsDistrusted(t *testing.T) {
	b := gecko()
	for range 5 {
		b = b.Learn(Observed{Days: 98, Celsius: 23.3, Own: true, Eggs: 2})
	}
	_, before, _ := b.Interval(23.3)
	b = b.Learn(Observed{Days: 128, Celsius: 23.3, Own: true, Eggs: 2})
	_, after, _ := b.Interval(23.3)
	if moved := after - before; !(moved > 0 && moved < 3) {
		t.Errorf("moved by %.1f d", moved)
	}
}

// A lay date known to three weeks teaches less than one known to a day.
func TestVagueLayDateTeachesLess(t *testing.T) {
	day := gecko().Learn(Observed{Days: 110, Celsius: 23.3, Own: true, Eggs: 1, DaysOff: 0.5})
	weeks := gecko().Learn(Observed{Days: 110, Celsius: 23.3, Own: true, Eggs: 1, DaysOff: 10.5})
	if day.LogDays+day.House <= weeks.LogDays+weeks.House {
		t.Errorf("level %.4f by a day, %.4f by three weeks", day.LogDays+day.House, weeks.LogDays+weeks.House)
	}
}

// What says nothing teaches nothing.
func TestNothingIsLearnedFromNothing(t *testing.T) {
	b := gecko()
	empty := Exposure{}
	for _, o := range []Observed{{}, {Days: 90, Celsius: math.NaN()}, {Days: math.Inf(1), Celsius: 23}, {Days: math.NaN(), Celsius: 23}, {Days: 90, Felt: &empty}} {
		if got := b.Learn(o); got != b {
			t.Errorf("%+v changed %v to %v", o, b, got)
		}
	}
}

// The bounds of a bridged gap hold nine times in ten, in a recorded office.
func TestGapBoundsHold(t *testing.T) {
	rows := office(t)
	for _, hours := range []time.Duration{3, 12, 24, 72} {
		held, all := 0, 0
		for i := 0; i+int(hours) < len(rows); i += 7 {
			part := rows[i : i+int(hours)+1]
			if part[len(part)-1].At.Sub(part[0].At) != hours*time.Hour {
				continue
			}
			first, last := part[0], part[len(part)-1]
			line := DegreeDays{Base: 15, Required: 1}
			_, low, high := (Exposure{}).Gap(Gap{From: first.At, To: last.At, Before: first.Celsius, After: last.Celsius}).Bridged(line)
			if got := sum(part).Share(line); low <= got && got <= high {
				held++
			}
			all++
		}
		t.Logf("gaps of %d h: %d of %d within bounds", hours, held, all)
		if float64(held) < 0.9*float64(all) || all < 100 {
			t.Errorf("gaps of %d h: %d of %d within bounds", hours, held, all)
		}
	}
}
