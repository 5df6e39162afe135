package calibration

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"example.com/ootherm/sensor"
)

func close(a, b float64) bool { return math.Abs(a-b) < 1e-9 }

func TestTemperature(t *testing.T) {
	for _, c := range []struct {
		name   string
		points []Point
		want   Line
		warn   []string // a part of each, in order
	}{
		{"ice alone", []Point{{IcePoint, .4}}, Line{1, -.4}, []string{"no point is near"}},
		{"a thermometer in the room", []Point{{24, 24.3}}, Line{1, -.3}, nil},
		{"ice and room", []Point{{0, .4}, {25, 25.2}}, Line{25 / 24.8, -.4 * 25 / 24.8}, nil},
		{"two in the room", []Point{{24, 24.3}, {26, 26.5}}, Line{1, -.4}, []string{"less than 10.0 C apart"}},
		{"three on a line", []Point{{0, 1}, {10, 11}, {30, 31}}, Line{1, -1}, nil},
		{"a bad point", []Point{{0, 0}, {15, 16.5}, {30, 30}}, Line{1.0, -.5}, []string{"point 2 is 1.0 C off", "point 1 is", "point 3 is"}},
		{"a broken probe", []Point{{24, 27}}, Line{1, -3}, []string{"off by 3.0 C"}},
		{"a steep one", []Point{{0, 0}, {30, 28}}, Line{30. / 28, 0}, []string{"93 % of what it should"}},
	} {
		l, warn, err := Temperature(c.points...)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if math.Abs(l.Slope-c.want.Slope) > 1e-2 || math.Abs(l.Offset-c.want.Offset) > 1e-1 || len(c.points) < 3 && (!close(l.Slope, c.want.Slope) || !close(l.Offset, c.want.Offset)) {
			t.Errorf("%s: %+v, want %+v", c.name, l, c.want)
		}
		said := ""
		for _, g := range warn {
			said += inCelsius(g) + "; "
		}
		if len(warn) != len(c.warn) {
			t.Errorf("%s: warns %q, want %q", c.name, said, c.warn)
		}
		for _, w := range c.warn {
			if !strings.Contains(said, w) {
				t.Errorf("%s: warns %q, want %q", c.name, said, w)
			}
		}
	}
}

func inCelsius(w Warning) string {
	say := func(v float64) string { return fmt.Sprintf("%.1f C", v) }
	return w.Say(say, say)
}

// A difference is told by the way differences are, never as a reading.
func TestWarningsTellDifferencesApart(t *testing.T) {
	_, warn, err := Temperature(Point{IcePoint, 3})
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, w := range warn {
		all = append(all, w.Say(func(c float64) string { return fmt.Sprintf("%.1f F", c*1.8+32) }, func(k float64) string { return fmt.Sprintf("%.1f F apart", k*1.8) }))
	}
	got := strings.Join(all, "; ")
	for _, want := range []string{"off by 5.4 F apart", "near the 68.0 F to 91.4 F"} {
		if !strings.Contains(got, want) {
			t.Errorf("warns %q, want %q", got, want)
		}
	}
}

func TestHumidityAtTwoSalts(t *testing.T) {
	low, err := MagnesiumChloride.Humidity(25)
	if err != nil {
		t.Fatal(err)
	}
	high, err := SodiumChloride.Humidity(25)
	if err != nil {
		t.Fatal(err)
	}
	l, warn, err := Humidity(Point{low, .35}, Point{high, .77})
	if err != nil || len(warn) > 0 {
		t.Fatal(l, warn, err)
	}
	if !close(l.At(.35), low) || !close(l.At(.77), high) {
		t.Errorf("%+v misses the points it was fitted to", l)
	}
}

func TestFitsThatCannotBeUsed(t *testing.T) {
	nan := math.NaN()
	for fault, points := range map[string][]Point{
		"nothing":                {},
		"a reading of nothing":   {{24, nan}},
		"a reference of nothing": {{nan, 24}},
		"beyond any thermometer": {{24, 240}},
		"swapped points":         {{0, 25}, {25, 0}},
	} {
		l, _, err := Temperature(points...)
		if err == nil || !math.IsNaN(l.Slope) || !math.IsNaN(l.Offset) {
			t.Errorf("%s: %+v, %v", fault, l, err)
		}
	}
	if l, _, err := Humidity(Point{75.3, 77}); err == nil {
		t.Errorf("percents are taken for ratios: %+v", l)
	}
}

func TestApply(t *testing.T) {
	c := Correction{Temperature: Line{1, .5}, Humidity: None()}
	if m := c.Apply(sensor.Measurement{Celsius: 24, Humidity: .5}); m.Celsius != 24.5 || math.Abs(m.Humidity-.485) > .0005 {
		t.Errorf("half a kelvin more makes %+v of 24 C and 50 %%, want 24.5 C and 48.5 %%", m)
	}
	c = Correction{Temperature: None(), Humidity: Line{1, -.02}}
	if m := c.Apply(sensor.Measurement{Celsius: 24, Humidity: 1.01}); m.Celsius != 24 || !close(m.Humidity, .99) {
		t.Errorf("two points less make %+v of 101 %%", m)
	}
	if m := c.Apply(sensor.None()); !math.IsNaN(m.Celsius) || !math.IsNaN(m.Humidity) {
		t.Errorf("nothing becomes %+v", m)
	}
	c.Temperature.Offset = -1
	if m := c.Apply(sensor.Measurement{Celsius: 24, Humidity: math.NaN()}); m.Celsius != 23 || !math.IsNaN(m.Humidity) {
		t.Errorf("a thermometer becomes %+v", m)
	}
}

func TestSalts(t *testing.T) {
	for _, c := range []struct {
		salt    Salt
		celsius float64
		want    float64
	}{
		{LithiumChloride, 15, .1130}, {MagnesiumChloride, 20, .3307}, {SodiumChloride, 25, .7529}, {PotassiumChloride, 30, .8362}, {PotassiumSulphate, 35, .9671},
		{SodiumChloride, 22.5, .7538}, {PotassiumChloride, 34, .83084},
	} {
		if got, err := c.salt.Humidity(c.celsius); err != nil || !close(got, c.want) {
			t.Errorf("%s at %v C is %v, %v, want %v", c.salt, c.celsius, got, err, c.want)
		}
	}
	for _, c := range []struct {
		salt    Salt
		celsius float64
	}{{SodiumChloride, 14.9}, {SodiumChloride, 35.1}, {SodiumChloride, math.NaN()}, {"sugar", 25}, {"", 25}} {
		if got, err := c.salt.Humidity(c.celsius); err == nil || !math.IsNaN(got) {
			t.Errorf("%q at %v C is %v", c.salt, c.celsius, got)
		}
	}
}

func TestSettled(t *testing.T) {
	if got, err := Settled([]float64{.3, .4, .3, .4, .3, .4}, .05); err != nil || !close(got, .35) {
		t.Errorf("a settled probe is at %v, %v", got, err)
	}
	for fault, r := range map[string][]float64{
		"too few": {0, 0, 0, 0, 0}, "drifting": {1, .9, .8, .7, .6, .5}, "not measured": {0, 0, 0, 0, 0, math.NaN()},
	} {
		if got, err := Settled(r, .05); err == nil || !math.IsNaN(got) {
			t.Errorf("%s: settled at %v", fault, got)
		}
	}
}

// A probe that was left in the room while its ice point was taken must not move all
// its readings by twenty degrees.
func TestAProbeThatWasNotInTheIce(t *testing.T) {
	for read, sound := range map[float64]bool{23.6: false, -12: false, 9.9: true, -2: true} {
		line, _, err := Temperature(Point{IcePoint, read}, Point{23.5, 23.5})
		if (err == nil) != sound || err != nil && (!math.IsNaN(line.Offset) || !strings.Contains(err.Error(), "point 1")) {
			t.Errorf("%v in ice: %+v, %v", read, line, err)
		}
	}
}
