package sensortest

import (
	"context"
	"errors"
	"math"
	"testing"
	"testing/synctest"

	"example.com/ootherm/sensor"
)

// Driver is how the contract reaches the driver under test.
type Driver struct {
	Good    Case // a part in order
	Faults  map[string]Case
	Lacking map[string]Case // a part whose humidity alone is broken, for a cause
}

// Case is a part in one condition.
type Case struct {
	Probe func(testing.TB) sensor.Probe // made again for each test
	Want  sensor.Measurement            // of a part in order; NaN where it does not measure
	Cause sensor.Cause                  // of a fault
}

// Contract is what every driver promises: exact values from good frames, no
// value beside an error, a cause for each fault, a temperature that a broken
// humidity leaves alone, and an end when the context ends.
func Contract(t *testing.T, d Driver) {
	// Each runs in simulated time: a driver's waits for its part take none.
	run := func(name string, f func(*testing.T)) {
		t.Run(name, func(t *testing.T) { synctest.Test(t, f) })
	}
	run("good", func(t *testing.T) {
		p := d.Good.Probe(t)
		if p.String() == "" {
			t.Error("the probe has no name to show")
		}
		m, err := p.Measure(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if !Equal(m, d.Good.Want) {
			t.Errorf("measured %+v, want %+v", m, d.Good.Want)
		}
	})
	for name, f := range d.Faults {
		run(name, func(t *testing.T) {
			m, err := f.Probe(t).Measure(t.Context())
			Refused(t, m, err, f.Cause)
		})
	}
	for name, f := range d.Lacking {
		run(name, func(t *testing.T) {
			m, err := f.Probe(t).Measure(t.Context())
			if err != nil || !Equal(m, sensor.Measurement{Celsius: d.Good.Want.Celsius, Humidity: math.NaN()}) {
				t.Fatalf("measured %+v, %v; want %v alone", m, err, d.Good.Want.Celsius)
			}
			if m.Lacking == nil || sensor.CauseOf(m.Lacking) != f.Cause {
				t.Errorf("its humidity is lacking for %q, %v; want %s", sensor.CauseOf(m.Lacking), m.Lacking, f.Cause)
			}
		})
	}
	run("ended context", func(t *testing.T) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		quiet := &ignorer{TB: t} // what the part had to say may stay unread
		m, err := d.Good.Probe(quiet).Measure(ctx)
		Refused(t, m, err, sensor.NoAnswer)
		if !errors.Is(err, context.Canceled) {
			t.Errorf("error %q does not wrap the context's", err)
		}
	})
}

// Refused checks the error of a failed measurement.
func Refused(t testing.TB, m sensor.Measurement, err error, want sensor.Cause) {
	t.Helper()
	if err == nil {
		t.Fatalf("measured %+v, want an error", m)
	}
	if !math.IsNaN(m.Celsius) || !math.IsNaN(m.Humidity) {
		t.Errorf("%+v travels with the error %q", m, err)
	}
	if got := sensor.CauseOf(err); got != want {
		t.Errorf("cause of %q is %s, want %s", err, got, want)
	}
}

// Equal reports whether two measurements are the same to a millionth, NaN being
// the same as NaN.
func Equal(a, b sensor.Measurement) bool {
	eq := func(x, y float64) bool {
		return math.IsNaN(x) && math.IsNaN(y) || math.Abs(x-y) < 1e-6
	}
	return eq(a.Celsius, b.Celsius) && eq(a.Humidity, b.Humidity)
}

// ignorer is a TB whose cleanups do not run: a script cut short by an ended
// context is not at fault.
type ignorer struct{ testing.TB }

func (*ignorer) Cleanup(func()) {}
