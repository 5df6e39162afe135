package thermal

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// gecko is a belief like that of a crested gecko with one reference.
func gecko() Belief {
	b := Prior(23.3, math.Log(80), 0.334, 0.110, 0.021).Learn(Observed{Days: 100, Celsius: 23.3, Practice: true})
	b.Upper = 27
	return b
}

func felt(celsius, days float64) Exposure {
	return Exposure{}.Steady(celsius, time.Duration(days*24*float64(time.Hour)))
}

func day(days float64) time.Time { return start.Add(time.Duration(days * 24 * float64(time.Hour))) }

func exactly(x Exposure) Heat { return Heat{Laid: Laid{start, start}, Since: x} }

func daysTo(t time.Time) float64 { return t.Sub(start).Hours() / 24 }

func windowOf(h Heat, b Belief, c Climate, now time.Time) Window {
	return c.Outlook(b, now).Window(h)
}

// At a steady temperature, the zone known exactly, the window is the belief's own
// interval.
func TestWindowOfASteadyRoomIsTheBeliefsInterval(t *testing.T) {
	b := gecko()
	for _, celsius := range []float64{21, 23.3, 25.5} {
		low, mid, high := b.Interval(celsius)
		w := windowOf(exactly(felt(celsius, 30)), b, Steady(celsius, 0), day(30))
		near(t, "check from, d", daysTo(w.CheckFrom), low, 0.05)
		near(t, "likely, d", daysTo(w.Likely), mid, 0.05)
		near(t, "high end, d", daysTo(w.High80), high, 0.05)
		near(t, "developed", w.Developed, 30/mid, 1e-3)
		if !(w.LateAfter.After(w.High80) && w.DevelopedLow < w.Developed && w.Developed < w.DevelopedHigh) {
			t.Errorf("out of order: %+v", w)
		}
	}
}

// The line says other than the curve at the cool end, and the same where they
// touch.
func TestLineAndCurveDifferAwayFromTheUsual(t *testing.T) {
	b := gecko()
	curve, line := windowOf(exactly(felt(23.3, 10)), b, Steady(23.3, 0), day(10)), windowOf(exactly(felt(23.3, 10)), b.AsLine(), Steady(23.3, 0), day(10))
	near(t, "likely by the line, d", daysTo(line.Likely), daysTo(curve.Likely), 0.05)
	curve, line = windowOf(exactly(felt(20, 10)), b, Steady(20, 0), day(10)), windowOf(exactly(felt(20, 10)), b.AsLine(), Steady(20, 0), day(10))
	if math.Abs(daysTo(line.Likely)-daysTo(curve.Likely)) < 2 {
		t.Errorf("at 20 C the line says %.1f d and the curve %.1f", daysTo(line.Likely), daysTo(curve.Likely))
	}
}

// Whatever is not known widens the window, and its reasons name it.
func TestWhatIsNotKnownWidens(t *testing.T) {
	b := gecko()
	exact := exactly(felt(23.3, 60))
	base := windowOf(exact, b, Steady(23.3, 0), day(60))
	width := func(w Window) float64 { return w.High80.Sub(w.Low80).Hours() / 24 }
	lay := exact
	lay.Laid = Laid{Earliest: start.Add(-20 * 24 * time.Hour), Latest: start}
	lay.Before = felt(23.3, 20)
	gap := exactly(felt(23.3, 35).Gap(Gap{From: day(35), To: day(60), Before: 23.3, After: 23.3}))
	probe := exact
	probe.ProbeSD = 0.8
	for _, c := range []struct {
		name   string
		window Window
		says   string
	}{
		{"lay interval", windowOf(lay, b, Steady(23.3, 0), day(60)), "lay date known to 20 days"},
		{"gap", windowOf(gap, b, Steady(23.3, 0), day(60)), "25 days not measured"},
		{"probe", windowOf(probe, b, Steady(23.3, 0), day(60)), "the probe's own error"},
		{"climate", windowOf(exact, b, Steady(23.3, 3), day(60)), "the temperature to come"},
	} {
		if !(width(c.window) > width(base)+0.5) {
			t.Errorf("%s: %.1f days wide, %.1f without", c.name, width(c.window), width(base))
		}
		if all := strings.Join(c.window.Because, "; "); !strings.Contains(all, c.says) {
			t.Errorf("%s: %q does not say %q", c.name, all, c.says)
		}
	}
	if !strings.Contains(base.Because[0], "one reference") {
		t.Errorf("%q does not name the one reference", base.Because[0])
	}
}

// The parts of the reason add up to the width it tells.
func TestReasonsAddUp(t *testing.T) {
	h := exactly(felt(23.3, 60))
	h.ProbeSD = 0.3
	h.Laid, h.Before = Laid{day(-12), start}, felt(23.3, 12)
	w := windowOf(h, gecko(), Steady(23.3, 1), day(60))
	width := w.LateAfter.Sub(w.CheckFrom).Hours() / 24
	parts := regexp.MustCompile(`\((\d+)\)`).FindAllStringSubmatch(w.Because[0], -1)
	sum := 0
	for _, part := range parts {
		n, err := strconv.Atoi(part[1])
		if err != nil {
			t.Fatal(err)
		}
		sum += n
	}
	if !strings.HasPrefix(w.Because[0], fmt.Sprintf("%.0f days wide: ", width)) || len(parts) < 4 {
		t.Errorf("%q of a window %.1f days wide", w.Because[0], width)
	}
	near(t, "the parts in all, d", float64(sum), width, 2)
}

// While an egg waits at a steady temperature, check-from and late-after stay; the likely day
// moves on until it would pass late-after, and then there is none. After late-after it is late.
func TestNotHatchedYetThenLate(t *testing.T) {
	b := gecko()
	first := windowOf(exactly(felt(23.3, 60)), b, Steady(23.3, 0), day(60))
	last, none := first, 0.0
	for d := 61.0; d < 200; d++ {
		w := windowOf(exactly(felt(23.3, d)), b, Steady(23.3, 0), day(d))
		near(t, "check from, d", daysTo(w.CheckFrom), daysTo(first.CheckFrom), 0.01)
		near(t, "late after, d", daysTo(w.LateAfter), daysTo(first.LateAfter), 0.01)
		if late := day(d).After(first.LateAfter); w.Late != late || late && !w.Likely.IsZero() {
			t.Fatalf("on day %.0f late is %v, likely %v", d, w.Late, w.Likely)
		}
		switch {
		case w.Likely.IsZero() && none == 0:
			none = d
		case none > 0 && !w.Likely.IsZero():
			t.Fatalf("on day %.0f it is likely again", d)
		case none == 0 && (w.Likely.Before(last.Likely) || w.Likely.Before(day(d)) || w.Likely.After(w.LateAfter)):
			t.Fatalf("on day %.0f it is likely on day %.2f, was %.2f", d, daysTo(w.Likely), daysTo(last.Likely))
		}
		last = w
	}
	if late := daysTo(first.LateAfter); none < late-12 || none > late {
		t.Errorf("no likely day from day %.0f on, late after %.1f", none, late)
	}
	if w := windowOf(exactly(felt(23.3, none)), b, Steady(23.3, 0), day(none)); !strings.Contains(strings.Join(w.Because, "; "), AnyDayReason) {
		t.Errorf("%q does not say why there is no likely day", w.Because)
	}
}

// No window is made up: too cold, arrested, or nothing known of what is to come.
func TestNoWindowSaysWhy(t *testing.T) {
	b := gecko()
	cold := windowOf(exactly(felt(12, 10)), b.AsLine(), Steady(8, 0.5), day(10))
	arrested := exactly(felt(23, 10))
	arrested.Arrested = true
	for _, c := range []struct {
		window Window
		says   string
	}{
		{cold, "too cold"},
		{windowOf(arrested, b, Steady(23, 1), day(10)), "mark its end"},
		{windowOf(exactly(felt(23, 10)), b, Climate{Mean: math.NaN(), SD: math.NaN()}, day(10)), "temperature to come"},
	} {
		if c.window.Exists() || !strings.Contains(c.window.None, c.says) || !c.window.Likely.IsZero() {
			t.Errorf("%+v, want no window and %q", c.window, c.says)
		}
	}
}

// Warmer than was ever tested the rate is held, and the window says so.
func TestBeyondTheDataIsHeldAndTold(t *testing.T) {
	b := gecko()
	at, hot := b.Rate().PerDay(27), b.Rate().PerDay(34)
	if at != hot {
		t.Errorf("rate %.5f at the limit, %.5f beyond it", at, hot)
	}
	w := windowOf(exactly(felt(23, 20).Steady(29, 48*time.Hour)), b, Steady(23, 1), day(22))
	if all := strings.Join(w.Because, "; "); !strings.Contains(all, "2 days warmer than was ever tested") {
		t.Errorf("%q does not say so", all)
	}
}

// A probe that was warm for minutes at the first measurement says nothing of the days
// before it.
func TestWarmMinutesAreNoWarmDays(t *testing.T) {
	week := Laid{start.Add(-7 * 24 * time.Hour), start}
	warm := Heat{Laid: week, Since: Exposure{}.Steady(23, 2*time.Hour).Steady(30, 2*time.Minute),
		Before: Exposure{}.Gap(Gap{From: week.Earliest, To: week.Latest, Before: math.NaN(), After: 30})}
	w := windowOf(warm, gecko(), Steady(23, 1), day(0).Add(2*time.Hour))
	if all := strings.Join(w.Because, "; "); strings.Contains(all, "than was ever tested") || !strings.Contains(all, "lay date known to 7 days") {
		t.Errorf("the reasons are %q", all)
	}
}

// A season that warms is not its last week.
func TestComingDaysMoveTheWindow(t *testing.T) {
	b := gecko()
	now := day(40)
	steady := windowOf(exactly(felt(22, 40)), b, Steady(22, 0.5), now)
	warming := Climate{Mean: 25, SD: 0.5, DailyRange: 2}
	for i := range 30 {
		warming.Days = append(warming.Days, 22+float64(i)/10)
	}
	w := windowOf(exactly(felt(22, 40)), b, warming, now)
	if !w.Likely.Before(steady.Likely.Add(-5 * 24 * time.Hour)) {
		t.Errorf("likely %.1f d in a warming season, %.1f d if it stays as it is", daysTo(w.Likely), daysTo(steady.Likely))
	}
	// The course is walked through exactly: the heat until then is what is required.
	x := felt(22, 40)
	for i := 0; i < int(w.Likely.Sub(now).Hours()); i++ {
		mean := 25.0
		if day := i / 24; day < len(warming.Days) {
			mean = warming.Days[day]
		}
		x = x.Steady(mean+math.Sin(2*math.Pi*(float64(i%24)+0.5)/24), time.Hour)
	}
	near(t, "share at the likely moment", x.Share(b.Rate()), 1, 0.002)
}

func BenchmarkFiveHundredClutches(bench *testing.B) {
	b := gecko()
	var heats []Heat
	for i := range 500 {
		h := Heat{Laid: Laid{start.Add(-24 * time.Hour), start}, ProbeSD: 0.3}
		h.Before = felt(23.3, 1)
		x := Exposure{}
		for k := range 60 {
			x = x.Steady(22+float64((i+k)%30)/10, 24*time.Hour)
		}
		h.Since = x
		heats = append(heats, h)
	}
	bench.ReportAllocs()
	for bench.Loop() {
		c := Climate{Mean: 23, SD: 0.7, DailyRange: 2, Days: make([]float64, 60)}
		for i := range c.Days {
			c.Days[i] = 23
		}
		curve, line := c.Outlook(b, day(60)), c.Outlook(b.AsLine(), day(60))
		for i := range heats {
			curve.Window(heats[i])
			line.Window(heats[i])
		}
	}
}
