package simulated

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

var noon = time.Date(2026, 4, 2, 12, 0, 0, 0, time.UTC)

func at(c Climate, t time.Time) func(testing.TB) sensor.Probe {
	return func(testing.TB) sensor.Probe { return New("shelf", c.At, func() time.Time { return t }) }
}

func TestContract(t *testing.T) {
	broken := Climate{SetPoint: 23, Humidity: .5, Faults: []Fault{{From: noon, To: noon.Add(time.Hour), Cause: sensor.BadFrame}}}
	sensortest.Contract(t, sensortest.Driver{
		Good: sensortest.Case{
			Probe: at(Climate{SetPoint: 23, Swing: 2, Humidity: .5, Damp: -.03}, noon.Add(3*time.Hour)),
			Want:  sensor.Measurement{Celsius: 25, Humidity: .44},
		},
		Faults: map[string]sensortest.Case{
			"scripted":          {Probe: at(broken, noon), Cause: sensor.BadFrame},
			"until just before": {Probe: at(broken, noon.Add(time.Hour-1)), Cause: sensor.BadFrame},
		},
	})
	for _, well := range []time.Time{noon.Add(-1), noon.Add(time.Hour)} {
		if _, err := broken.At(well); err != nil {
			t.Errorf("at %v: %v", well, err)
		}
	}
}

func TestTheSameTimeAndSeedReadTheSame(t *testing.T) {
	c := Climate{SetPoint: 23, Humidity: math.NaN(), Noise: .1, Seed: 7}
	var sum, squares float64
	const n = 20000
	for i := range n {
		at := noon.Add(time.Duration(i) * 10 * time.Second)
		a, _ := c.At(at)
		b, _ := c.At(at)
		if a.Celsius != b.Celsius || !math.IsNaN(a.Humidity) {
			t.Fatalf("%v and %v at the same time", a, b)
		}
		sum += a.Celsius - 23
		squares += (a.Celsius - 23) * (a.Celsius - 23)
	}
	if mean, sd := sum/n, math.Sqrt(squares/n); math.Abs(mean) > .003 || math.Abs(sd-.1) > .003 {
		t.Errorf("noise has mean %v and deviation %v, want 0 and 0.1", mean, sd)
	}
	c.Seed = 8
	a, _ := c.At(noon)
	c.Seed = 7
	if b, _ := c.At(noon); a.Celsius == b.Celsius {
		t.Error("two seeds give the same noise")
	}
}

func TestResolutionAndWarmFault(t *testing.T) {
	c := Climate{SetPoint: 23.04, Humidity: .5, Step: .0625, Faults: []Fault{{From: noon, To: noon.Add(time.Hour), Celsius: 2}}}
	if m, _ := c.At(noon.Add(-time.Hour)); m.Celsius != 23.0625 {
		t.Errorf("reads %v in steps of a sixteenth", m.Celsius)
	}
	if m, _ := c.At(noon); m.Celsius != 25.0625 {
		t.Errorf("reads %v with two kelvin too much", m.Celsius)
	}
}
