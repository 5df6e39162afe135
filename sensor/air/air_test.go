package air

import (
	"math"
	"testing"
)

// within checks a figure to a share of itself.
func within(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)) {
		t.Errorf("%s = %.5g, want %.5g within %.2g %%", what, got, want, 100*share)
	}
}

func TestSaturationPressureOfTheHandbookTable(t *testing.T) {
	// ASHRAE Handbook Fundamentals 2017, chapter 1, table 3.
	for c, want := range map[float64]float64{5: 872.6, 25: 3169.7, 50: 12351.3} {
		within(t, "SaturationPressure", SaturationPressure(c), want, 0.001)
	}
}

func TestDewPointOfSonntag(t *testing.T) {
	for _, c := range []struct{ celsius, humidity, want float64 }{
		{18, .40, 4.214}, {20, .50, 9.274}, {24, .50, 12.947},
		{25, .60, 16.702}, {28, .85, 25.240}, {30, .90, 28.177},
	} {
		within(t, "DewPoint", DewPoint(c.celsius, c.humidity), c.want, 0.001)
	}
	if got := DewPoint(23, 1); math.Abs(got-23) > 1e-9 {
		t.Errorf("saturated air at 23 C has its dew point at %v", got)
	}
}

func TestDeficitAndAbsoluteHumidity(t *testing.T) {
	for _, c := range []struct{ celsius, humidity, want float64 }{
		{24, .50, 1492.9}, {25, .60, 1268.0}, {30, .90, 424.7},
	} {
		within(t, "Deficit", Deficit(c.celsius, c.humidity), c.want, 0.001)
	}
	for _, c := range []struct{ celsius, humidity, want float64 }{
		{20, .50, 8.645}, {25, .60, 13.822},
	} {
		within(t, "Absolute", Absolute(c.celsius, c.humidity), c.want, 0.001)
	}
}

func TestHumidityFollowsAnOffsetThroughVapourPressure(t *testing.T) {
	// Half a kelvin is a point and a half at 24 C and 50 %.
	got := AtTemperature(.50, 24, 24.5)
	if math.Abs(got-.485) > .0005 {
		t.Errorf("50 %% at 24.0 C is %.2f %% at 24.5 C, want 48.5", 100*got)
	}
	within(t, "vapour pressure kept", got*SaturationPressure(24.5), .5*SaturationPressure(24), 1e-12)
}

func TestWhatIsNotKnownStaysUnknown(t *testing.T) {
	nan := math.NaN()
	for name, got := range map[string]float64{
		"SaturationPressure(NaN)":             SaturationPressure(nan),
		"SaturationPressure below zero K":     SaturationPressure(-300),
		"DewPoint(NaN, .5)":                   DewPoint(nan, .5),
		"DewPoint(20, NaN)":                   DewPoint(20, nan),
		"DewPoint of dry air":                 DewPoint(20, 0),
		"DewPoint(20, +Inf)":                  DewPoint(20, math.Inf(1)),
		"Deficit(20, NaN)":                    Deficit(20, nan),
		"Deficit(20, -1)":                     Deficit(20, -1),
		"Absolute(NaN, .5)":                   Absolute(nan, .5),
		"Absolute(20, -1)":                    Absolute(20, -1),
		"AtTemperature(NaN, 20, 21)":          AtTemperature(nan, 20, 21),
		"AtTemperature(.5, NaN, 21)":          AtTemperature(.5, nan, 21),
		"AtTemperature(.5, 20, NaN)":          AtTemperature(.5, 20, nan),
		"AtTemperature of a humidity below 0": AtTemperature(-.1, 20, 21),
	} {
		if !math.IsNaN(got) {
			t.Errorf("%s = %v, want NaN", name, got)
		}
	}
}
