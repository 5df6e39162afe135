package thermal

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

var (
	anyCelsius  = rapid.Float64Range(Coldest, Warmest)
	mildCelsius = rapid.Float64Range(15, 26.5)
)

// samples are a probe's, at steps of up to three hours.
func samples(celsius *rapid.Generator[float64]) *rapid.Generator[[]Sample] {
	return rapid.Custom(func(t *rapid.T) []Sample {
		at := start
		out := make([]Sample, rapid.IntRange(2, 60).Draw(t, "n"))
		for i := range out {
			out[i] = Sample{at, celsius.Draw(t, "celsius")}
			at = at.Add(time.Duration(rapid.Int64Range(1, int64(3*time.Hour)).Draw(t, "step")))
		}
		return out
	})
}

func sum(samples []Sample) Exposure {
	var x Exposure
	for i := 1; i < len(samples); i++ {
		x.Add(samples[i-1], samples[i])
	}
	return x
}

func same(a, b Exposure) bool { return a.cells == b.cells && slices.Equal(a.gaps, b.gaps) }

// Wherever it is cut, the parts sum to the whole, to the millisecond.
func TestExposureIsAdditiveOverAnySplit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := samples(anyCelsius).Draw(t, "samples")
		cut := rapid.IntRange(0, len(s)-1).Draw(t, "cut")
		whole, parts := sum(s), sum(s[:cut+1]).Plus(sum(s[cut:]))
		if !same(whole, parts) {
			t.Fatalf("%v whole, %v in parts", whole.Measured(), parts.Measured())
		}
		span := s[len(s)-1].At.UnixMilli() - s[0].At.UnixMilli()
		if whole.Measured().Milliseconds() != span {
			t.Fatalf("%v of %d ms", whole.Measured(), span)
		}
	})
}

// A box that moves between rooms has felt the sum of its stays, in any order.
func TestMovedBoxIsTheSumOfItsStays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		stays := rapid.SliceOfN(samples(mildCelsius), 1, 5).Draw(t, "stays")
		var live, forth, back Exposure
		for _, s := range stays {
			for i := 1; i < len(s); i++ {
				live = live.Span(s[i-1], s[i])
			}
			forth = forth.Plus(sum(s))
		}
		for _, s := range slices.Backward(stays) {
			back = back.Plus(sum(s))
		}
		if !same(live, forth) || !same(forth, back) {
			t.Fatal("the stays do not sum to what was felt")
		}
		if a, b := live.Share(gecko().Rate()), back.Share(gecko().Rate()); a != b {
			t.Fatalf("share %v live, %v rebuilt", a, b)
		}
	})
}

func TestStoredFormIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := sum(samples(rapid.Float64()).Draw(t, "samples"))
		for range rapid.IntRange(0, 3).Draw(t, "gaps") {
			from := start.Add(time.Duration(rapid.Int64Range(-1e18, 1e18).Draw(t, "from")))
			x = x.Gap(Gap{
				From: from, To: from.Add(time.Duration(rapid.Int64Range(0, 1e15).Draw(t, "length"))),
				Before: rapid.Float64().Draw(t, "before"), After: anyCelsius.Draw(t, "after"),
				Margin: rapid.Float64Range(0, 5).Draw(t, "margin"),
			})
		}
		b, err := x.MarshalBinary()
		if err != nil {
			t.Fatal(err)
		}
		var y Exposure
		if err := y.UnmarshalBinary(b); err != nil {
			t.Fatal(err)
		}
		again, err := y.MarshalBinary()
		if err != nil || !bytes.Equal(b, again) || !same(x, y) {
			t.Fatal("it came back otherwise")
		}
	})
}

// A little more heat, below the limit, never puts the hatch off.
func TestHeatNeverDelays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := gecko()
		c := Steady(rapid.Float64Range(18, 26).Draw(t, "coming"), rapid.Float64Range(0, 1.5).Draw(t, "sd"))
		celsius, days := mildCelsius.Draw(t, "celsius"), rapid.Float64Range(1, 60).Draw(t, "days")
		more := rapid.Float64Range(0.1, 0.5).Draw(t, "more")
		for _, b := range []Belief{b, b.AsLine()} {
			a := windowOf(exactly(felt(celsius, days)), b, c, day(days))
			w := windowOf(exactly(felt(celsius+more, days)), b, c, day(days))
			if a.Exists() != w.Exists() {
				t.Fatalf("%.2f K more: %q became %q", more, a.None, w.None)
			}
			const slack = 3 * time.Minute
			for _, pair := range [...][2]time.Time{{a.CheckFrom, w.CheckFrom}, {a.Likely, w.Likely}, {a.LateAfter, w.LateAfter}} {
				if pair[1].After(pair[0].Add(slack)) {
					t.Fatalf("%.2f K more for %.0f days: %v became %v", more, days, daysTo(pair[0]), daysTo(pair[1]))
				}
			}
			if w.Developed < a.Developed {
				t.Fatalf("%.2f K more: developed %.4f became %.4f", more, a.Developed, w.Developed)
			}
		}
	})
}

// What was not measured may have been as measured: it never narrows a window.
func TestGapNeverNarrows(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := gecko()
		celsius := rapid.Float64Range(20, 26).Draw(t, "celsius")
		days := rapid.Float64Range(5, 60).Draw(t, "days")
		missing := rapid.Float64Range(0, days-1).Draw(t, "missing")
		width := func(x Exposure) float64 {
			w := windowOf(exactly(x), b, Steady(celsius, 0.5), day(days))
			return w.LateAfter.Sub(w.CheckFrom).Hours()
		}
		whole := width(felt(celsius, days))
		holed := width(felt(celsius, days-missing).Gap(Gap{From: day(days - missing), To: day(days), Before: celsius, After: celsius}))
		if holed < whole-0.1 {
			t.Fatalf("%.1f days of %.1f missing: %.2f h wide, was %.2f", missing, days, holed, whole)
		}
	})
}

// Whatever was felt, noted and expected: no window ends before now, none is out
// of order, and no number is not one.
func TestNoNonsenseForAnyInput(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := Prior(rapid.Float64Range(18, 34).Draw(t, "usual"), rapid.Float64Range(3, 6).Draw(t, "level"), 0.33, rapid.Float64Range(0.02, 0.15).Draw(t, "slope"), 0.02)
		b.Upper = rapid.SampledFrom([]float64{0, 27, 35}).Draw(t, "upper")
		b.Straight = rapid.Bool().Draw(t, "straight")
		s := samples(anyCelsius).Draw(t, "samples")
		x := sum(s)
		for range rapid.IntRange(0, 4).Draw(t, "observations") {
			o := Observed{
				Days: rapid.Float64Range(1, 400).Draw(t, "days"), Celsius: anyCelsius.Draw(t, "celsius"),
				DailyRange: rapid.Float64Range(0, 30).Draw(t, "range"), Own: rapid.Bool().Draw(t, "own"),
				SameDam: rapid.Bool().Draw(t, "dam"), Practice: rapid.Bool().Draw(t, "practice"),
				Eggs: rapid.IntRange(0, 3).Draw(t, "eggs"), DaysOff: rapid.Float64Range(0, 10).Draw(t, "off"),
			}
			if rapid.Bool().Draw(t, "felt") {
				o.Felt = &x
			}
			b = b.Learn(o)
		}
		sane := func(what string, v ...float64) {
			for _, v := range v {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%s is %v of %+v", what, v, b)
				}
			}
		}
		sane("belief", b.LogDays, b.Slope, b.Bend, b.House, b.Dam)
		for i := range states {
			sane("variance", b.Covariance[i][i])
			if b.Covariance[i][i] < -1e-12 {
				t.Fatalf("variance %d is %v", i, b.Covariance[i][i])
			}
		}
		celsius := anyCelsius.Draw(t, "asked")
		sane("rate", b.Rate().PerDay(celsius), b.Line().PerDay(celsius), b.Model().PerDay(celsius))
		share, low, high := x.Bridged(b.Model())
		sane("share", share, low, high)
		from := s[len(s)-1].At
		heat := Heat{
			Laid:  Laid{start.Add(-time.Duration(rapid.IntRange(0, 400).Draw(t, "lay")) * time.Hour), start},
			Since: x.Gap(Gap{From: from, To: from.Add(time.Hour), Before: anyCelsius.Draw(t, "before"), After: math.NaN()}),
		}
		heat.Before = heat.Before.Steady(anyCelsius.Draw(t, "first"), start.Sub(heat.Earliest))
		heat.ProbeSD = rapid.Float64Range(0, 3).Draw(t, "probe")
		now := from.Add(time.Hour)
		c := Climate{Mean: anyCelsius.Draw(t, "mean"), SD: rapid.Float64Range(0, 5).Draw(t, "sd"), DailyRange: rapid.Float64Range(0, 20).Draw(t, "swing")}
		c.Days = rapid.SliceOfN(anyCelsius, 0, 20).Draw(t, "coming days")
		w := windowOf(heat, b, c, now)
		sane("developed", w.Developed, w.DevelopedLow, w.DevelopedHigh)
		if w.Developed < 0 || w.Developed > 1 || w.DevelopedLow > w.Developed || w.Developed > w.DevelopedHigh {
			t.Fatalf("developed %v (%v to %v)", w.Developed, w.DevelopedLow, w.DevelopedHigh)
		}
		if !w.Exists() {
			return
		}
		order := [][]time.Time{{w.CheckFrom, w.LateAfter}}
		if !w.Likely.IsZero() {
			order = [][]time.Time{{w.CheckFrom, w.Likely, w.LateAfter}, {now, w.Likely}, {now, w.Low80, w.High80, w.High95}}
		}
		for _, o := range order {
			if !slices.IsSortedFunc(o, time.Time.Compare) {
				t.Fatalf("a window out of order: %v", o)
			}
		}
	})
}

// Bytes that only look like a stored exposure are refused or read back as what
// they say, and never bring the program down.
func FuzzStoredForm(f *testing.F) {
	b, err := felt(23, 5).Gap(Gap{From: start, To: day(1), Before: 22, After: 23}).MarshalBinary()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b[:len(b)-4])
	f.Fuzz(func(t *testing.T, body []byte) {
		var x, y Exposure
		stored := binary.LittleEndian.AppendUint32(slices.Clone(body), crc32.ChecksumIEEE(body))
		if x.UnmarshalBinary(stored) != nil {
			if !same(x, Exposure{}) {
				t.Fatal("an exposure beside an error")
			}
			return
		}
		again, err := x.MarshalBinary()
		if err != nil {
			t.Fatal(err)
		}
		if err := y.UnmarshalBinary(again); err != nil || y.cells != x.cells || len(y.gaps) != len(x.gaps) {
			t.Fatalf("read once, not twice: %v", err)
		}
	})
}
