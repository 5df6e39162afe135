package thermal

import (
	"encoding/csv"
	"math"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"
)

var start = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s is %.4f, want %.4f within %g", what, got, want, within)
	}
}

// office is a recording of one office, hourly for nine months.
func office(t *testing.T) []Sample {
	t.Helper()
	f, err := os.Open("../testdata/rooms/office-hourly-fahrenheit.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []Sample
	for _, row := range rows[1:] {
		at, err := time.Parse(time.DateTime, row[0])
		if err != nil {
			t.Fatal(err)
		}
		v, err := strconv.ParseFloat(row[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, Sample{At: at, Celsius: (v - 32) / 1.8})
	}
	return out
}

// The office recording has ten gaps; skipping those loses heat that was there.
func TestSkippingGapsLosesHeat(t *testing.T) {
	rows := office(t)
	var all, skipped, told Exposure
	var last Sample
	for i, s := range rows {
		if i > 0 {
			all.Add(last, s)
			if s.At.Sub(last.At) <= 2*time.Hour {
				skipped.Add(last, s)
				told.Add(last, s)
			} else {
				told = told.Gap(Gap{From: last.At, To: s.At, Before: last.Celsius, After: s.Celsius})
			}
		}
		last = s
	}
	line := DegreeDays{Base: 15, Required: 1}
	near(t, "heat with every gap bridged, C d", all.Share(line), 2237.4, 0.1)
	near(t, "heat without the gaps over 2 h, C d", skipped.Share(line), 2057.3, 0.1)
	bridged, low, high := told.Bridged(line)
	near(t, "heat with the gaps told as gaps, C d", bridged, 2237.4, 0.1)
	if !(low < bridged && bridged < high) {
		t.Errorf("bounds of the bridged heat are %.1f..%.1f, want %.1f between them", low, high, bridged)
	}
	near(t, "days in gaps", told.Missing().Hours()/24, 26.2, 0.1)
}

// A span is halved between its ends and each half split between two cells, so
// that a line is summed exactly.
func TestSpanIsTheTrapezoidOfALine(t *testing.T) {
	x := Exposure{}.Span(Sample{start, 23.337}, Sample{start.Add(10 * time.Hour), 24.981})
	line := DegreeDays{Base: 14.2, Required: 878}
	near(t, "share", x.Share(line)*878, (23.337+24.981-2*14.2)/2*10/24, 1e-5)
	near(t, "mean", x.Mean(), (23.337+24.981)/2, 1e-5)
	if x.Measured() != 10*time.Hour || x.Missing() != 0 || x.Observed() != 1 {
		t.Errorf("measured %v, missing %v, observed %v", x.Measured(), x.Missing(), x.Observed())
	}
}

// Beyond the cells the end cells hold the time; it is not lost.
func TestOutsideTheCellsIsClamped(t *testing.T) {
	x := Exposure{}.Span(Sample{start, -300}, Sample{start.Add(time.Hour), math.Inf(1)})
	if x.Measured() != time.Hour {
		t.Errorf("measured %v of an hour", x.Measured())
	}
	near(t, "mean", x.Mean(), (Coldest+Warmest)/2, 1e-9)
}

// A sample that is not a number, time that runs backwards: no heat is made up.
func TestSpanOfNoNumberIsAGap(t *testing.T) {
	x := Exposure{}.Span(Sample{start, 23}, Sample{start.Add(time.Hour), math.NaN()})
	if x.Measured() != 0 || x.Missing() != time.Hour {
		t.Errorf("measured %v, missing %v, want a gap of an hour", x.Measured(), x.Missing())
	}
	share, _, _ := x.Bridged(DegreeDays{Base: 15, Required: 8})
	near(t, "share bridged from the one side known", share, 1.0/24, 1e-12)
	if y := (Exposure{}).Span(Sample{start, 23}, Sample{start.Add(-time.Hour), 24}); y.Measured() != 0 || y.Missing() != 0 {
		t.Errorf("a span backwards gave %v and %v", y.Measured(), y.Missing())
	}
}

// A gap that is said to begin at no time at all is long, not negative.
func TestGapSinceForeverIsLong(t *testing.T) {
	x := Exposure{}.Gap(Gap{To: start, Before: math.NaN(), After: 23})
	if years := x.Missing().Hours() / 24 / 365; years < 100 {
		t.Errorf("%.0f years missing", years)
	}
	b, err := x.MarshalBinary()
	if err != nil {
		t.Fatal(err)
	}
	if err := x.UnmarshalBinary(b); err != nil {
		t.Error(err)
	}
}

// An exposure is a value: adding a gap to one copy must not show in another.
func TestCopiesShareNoGaps(t *testing.T) {
	gap := func(h int) Gap {
		at := start.Add(time.Duration(h) * time.Hour)
		return Gap{From: at, To: at.Add(time.Hour), Before: 20, After: 21}
	}
	x := Exposure{}.Gap(gap(0)).Gap(gap(2)).Gap(gap(4))
	a, b := x.Gap(gap(6)), x.Gap(gap(8))
	if got := a.Gaps()[3].From; !got.Equal(start.Add(6 * time.Hour)) {
		t.Errorf("the first copy's last gap begins %v, overwritten by the second's", got)
	}
	both := x.Plus(Exposure{}.Gap(gap(10)))
	_ = x.Plus(Exposure{}.Gap(gap(12)))
	if got := both.Gaps()[3].From; !got.Equal(start.Add(10 * time.Hour)) {
		t.Errorf("the sum's last gap begins %v", got)
	}
	if b.Missing() != 4*time.Hour || x.Missing() != 3*time.Hour {
		t.Errorf("missing %v and %v", b.Missing(), x.Missing())
	}
}

// A probe found 0.4 K off: the stored cells are corrected, not measured again.
func TestMapRecalibrates(t *testing.T) {
	raw := Exposure{}.Steady(23.3, 5*24*time.Hour).Gap(Gap{From: start, To: start.Add(time.Hour), Before: 23, After: math.NaN()})
	x := raw.Map(1.01, -0.4)
	near(t, "mean", x.Mean(), 23.3*1.01-0.4, 1e-9)
	if x.Measured() != raw.Measured() {
		t.Errorf("measured %v became %v", raw.Measured(), x.Measured())
	}
	near(t, "the gap's side", x.Gaps()[0].Before, 23*1.01-0.4, 1e-12)
	if raw.Gaps()[0].Before != 23 {
		t.Error("the raw exposure was changed")
	}
}

func TestEquivalentIsTheSteadyTemperature(t *testing.T) {
	curve := Curve{Usual: 23.3, LogDays: math.Log(97), Slope: 0.11, Bend: Bend, Upper: 27}
	for _, c := range []float64{16, 20.25, 23.3, 26.9} {
		near(t, "equivalent", Exposure{}.Steady(c, 40*24*time.Hour).Equivalent(curve), c, 0.002)
	}
	swing := Exposure{}.Steady(20, 24*time.Hour).Steady(26, 24*time.Hour)
	if got := swing.Equivalent(curve); !(got > 22.5 && got < 26) {
		t.Errorf("equivalent of half 20 and half 26 is %.2f", got)
	}
	if got := (Exposure{}).Equivalent(curve); !math.IsNaN(got) {
		t.Errorf("equivalent of no time is %v", got)
	}
	if got := (Exposure{}).Steady(10, time.Hour).Equivalent(DegreeDays{Base: 15, Required: 800}); !math.IsNaN(got) {
		t.Errorf("equivalent of no development is %v", got)
	}
}

func TestOutsideTheBand(t *testing.T) {
	x := Exposure{}.Steady(19, 2*time.Hour).Steady(23, 20*time.Hour).Steady(27.5, time.Hour)
	below, above, cold, hot := x.Outside(20, 26.5)
	if below != 2*time.Hour || above != time.Hour {
		t.Errorf("below %v, above %v", below, above)
	}
	near(t, "cold degree-hours", cold, 2, 1e-9)
	near(t, "hot degree-hours", hot, 1, 1e-9)
}

// What is stored comes back to the bit, and a damaged byte is never believed.
func TestStoredFormRoundTripsAndDetectsDamage(t *testing.T) {
	x := Exposure{}.Steady(22.95, 6*time.Hour).Steady(-50, time.Second).Steady(99, time.Millisecond).
		Gap(Gap{From: start, To: start.Add(90 * time.Minute), Before: 23.1, After: math.Inf(1)})
	b, err := x.AppendBinary([]byte("kept"))
	if err != nil {
		t.Fatal(err)
	}
	if string(b[:4]) != "kept" {
		t.Fatalf("what came before became %q", b[:4])
	}
	b = b[4:]
	var y Exposure
	if err := y.UnmarshalBinary(b); err != nil {
		t.Fatal(err)
	}
	if y.cells != x.cells || !slices.Equal(y.gaps, x.gaps) {
		t.Error("what was stored did not come back")
	}
	for i := range b {
		for _, bit := range []byte{1, 0x80} {
			damaged := slices.Clone(b)
			damaged[i] ^= bit
			z := x
			if err := z.UnmarshalBinary(damaged); err == nil {
				t.Fatalf("byte %d damaged and believed", i)
			}
			if z.cells != x.cells {
				t.Fatal("an error came beside another exposure")
			}
		}
		var z Exposure
		if err := z.UnmarshalBinary(b[:i]); err == nil {
			t.Fatalf("cut to %d bytes and believed", i)
		}
	}
}

// The summaries of a season of twelve probes stay under 1 MB.
func TestStoredSummaryIsSmall(t *testing.T) {
	var x Exposure
	last := Sample{start, 23}
	for i := 1; i <= 6*360; i++ {
		s := Sample{start.Add(time.Duration(i) * 10 * time.Second), 23.3 + 0.4*math.Sin(float64(i)/100)}
		x.Add(last, s)
		last = s
	}
	b, err := x.MarshalBinary()
	if err != nil {
		t.Fatal(err)
	}
	const season = 200 * 4 * 12 // days, blocks, probes
	if len(b)*season > 1_000_000 {
		t.Errorf("a summary takes %d bytes, a season %d", len(b), len(b)*season)
	}
}

func BenchmarkSampleStep(b *testing.B) {
	var x Exposure
	s := Sample{start, 23.3}
	b.ReportAllocs()
	for i := range b.N {
		next := Sample{s.At.Add(10 * time.Second), 23 + float64(i%17)*0.07}
		x.Add(s, next)
		s = next
	}
}

func BenchmarkSampleStepByValue(b *testing.B) {
	var x Exposure
	s := Sample{start, 23.3}
	b.ReportAllocs()
	for i := range b.N {
		next := Sample{s.At.Add(10 * time.Second), 23 + float64(i%17)*0.07}
		x = x.Span(s, next)
		s = next
	}
}

// The sample step is taken 20.7 million times a season on a small computer.
func TestSampleStepDoesNotAllocate(t *testing.T) {
	var x Exposure
	s := Sample{start, 23.3}
	if n := testing.AllocsPerRun(100, func() {
		next := Sample{s.At.Add(10 * time.Second), 23.41}
		x.Add(s, next)
		s = next
	}); n != 0 {
		t.Errorf("%v allocations a sample", n)
	}
}
