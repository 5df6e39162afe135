package calibration

import (
	"math"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/sensor"
)

func day(n int) time.Time { return time.Date(2026, 4, n, 0, 0, 0, 0, time.UTC) }

func TestTimeline(t *testing.T) {
	ice := Calibration{From: day(10), Temperature: []Point{{IcePoint, 0.4}}}
	salt := Calibration{From: day(12), Humidity: []Point{{0.75, 0.70}}}
	useless := Calibration{From: day(14), Temperature: []Point{{0, 90}}}
	line := Timeline{}
	line.Add("a", 0.3, []Calibration{ice, salt, useless})
	line.Add("b", 0, nil)
	for _, c := range []struct {
		probe             string
		at                time.Time
		celsius, humidity float64
	}{
		{"a", day(1), 24.3, 0},
		{"a", day(10).Add(-1), 24.3, 0},
		{"a", day(10), 23.6, 0},
		{"a", day(12), 23.6, 0.05},
		{"a", day(20), 23.6, 0.05},
		{"b", day(20), 24, 0},
		{"unknown", day(20), 24, 0},
	} {
		if got := line.Celsius(c.probe, c.at, 24); !close(got, c.celsius) {
			t.Errorf("24 C of %s on %v is %v C, want %v", c.probe, c.at, got, c.celsius)
		}
		if got := line.At(c.probe, c.at).Humidity.Offset; !close(got, c.humidity) {
			t.Errorf("the humidity of %s on %v is moved by %v, want %v", c.probe, c.at, got, c.humidity)
		}
	}
}

// A probe is known as well as its worst calibration since a time; one that was never compared
// by then is not known.
func TestTemperatureSD(t *testing.T) {
	line := Timeline{}
	line.Add("a", 0, []Calibration{
		{From: day(10), Temperature: []Point{{IcePoint, 0.4}}},
		{From: day(12), Temperature: []Point{{23, 23.4}}},
		{From: day(14), Humidity: []Point{{0.75, 0.70}}},
	})
	line.Add("b", 0, nil)
	for _, c := range []struct {
		probe string
		since time.Time
		want  float64
	}{
		{"a", day(9), 0}, {"a", day(10), 0.2}, {"a", day(11), 0.2}, {"a", day(12), 0.1}, {"a", day(20), 0.1},
		{"b", day(20), 0}, {"unknown", day(20), 0},
	} {
		if got := line.Of(c.probe).TemperatureSD(c.since); got != c.want {
			t.Errorf("%s since %v is known to %v K, want %v", c.probe, c.since, got, c.want)
		}
	}
}

// A corrected humidity stays a ratio; one that was not measured stays absent.
func TestTimelineKeepsHumidityARatio(t *testing.T) {
	line := Timeline{}
	line.Add("a", 0, []Calibration{{Humidity: []Point{{0.75, 0.70}}}})
	line.Add("b", 0, []Calibration{{Humidity: []Point{{0.75, 0.80}}}})
	for _, c := range []struct {
		probe     string
		raw, want float64
	}{{"a", 0.98, 1}, {"a", 0.5, 0.55}, {"b", 0.02, 0}} {
		if got := line.Measurement(c.probe, day(1), sensor.Measurement{Celsius: 24, Humidity: c.raw}); !close(got.Humidity, c.want) {
			t.Errorf("%v of %s is %v, want %v", c.raw, c.probe, got.Humidity, c.want)
		}
	}
	if got := line.Measurement("a", day(1), sensor.Measurement{Celsius: 24, Humidity: math.NaN()}); !math.IsNaN(got.Humidity) || got.Celsius != 24 {
		t.Errorf("without a humidity it is %+v", got)
	}
}

func TestTimelineChanged(t *testing.T) {
	before, after := Timeline{}, Timeline{}
	for _, name := range []string{"a", "b", "c"} {
		before.Add(name, 0.3, nil)
	}
	after.Add("a", 0.3, nil)
	after.Add("b", 0.4, nil)
	after.Add("c", 0.3, []Calibration{{From: day(1), Temperature: []Point{{0, 0.4}}}})
	after.Add("d", 0, nil)
	if got := after.Changed(before); !slices.Equal(got, []string{"b", "c", "d"}) {
		t.Errorf("changed are %v", got)
	}
	if got := before.Changed(before); len(got) > 0 {
		t.Errorf("changed from itself are %v", got)
	}
}

func TestCheck(t *testing.T) {
	for name, c := range map[string]struct {
		Calibration
		fails bool
	}{
		"nothing":             {Calibration{}, false},
		"an ice point":        {Calibration{Temperature: []Point{{0, 0.4}}}, false},
		"a far temperature":   {Calibration{Temperature: []Point{{0, 90}}}, true},
		"a salt":              {Calibration{Humidity: []Point{{0.75, 0.7}}}, false},
		"a humidity of 300 %": {Calibration{Temperature: []Point{{0, 0.4}}, Humidity: []Point{{0.75, 3}}}, true},
	} {
		if err := c.Check(); (err != nil) != c.fails {
			t.Errorf("%s: %v", name, err)
		}
	}
}
