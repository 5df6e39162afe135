// Package simulated is a probe without a part: its values are a pure function of
// time, for the demonstration and for tests of the whole station.
package simulated

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"example.com/ootherm/sensor"
)

// Climate is what the simulated probe feels and how it reads it.
type Climate struct {
	SetPoint float64 // C, the mean
	Swing    float64 // K, half of the day's course, warmest at 15:00
	Humidity float64 // ratio, the mean; NaN for a part that has none
	Damp     float64 // change of the ratio for a kelvin; a warmer room is drier, so below nothing
	Noise    float64 // K, standard deviation of one reading
	Step     float64 // K, resolution; zero is exact
	Seed     uint64  // of the noise
	Faults   []Fault // what goes wrong, and when; the first that fits counts
}

// Fault is a failure over a span of time, from its start up to but without its end.
type Fault struct {
	From, To time.Time
	Cause    sensor.Cause // fails so
	Celsius  float64      // or, without a cause, reads warmer by this
}

// At is what the probe reads at a time, the same for the same time and seed. It
// fails as the faults say.
func (c Climate) At(t time.Time) (sensor.Measurement, error) {
	var off float64
	for _, f := range c.Faults {
		if t.Before(f.From) || !t.Before(f.To) {
			continue
		}
		if f.Cause != "" {
			return sensor.None(), sensor.Fail(f.Cause, "a fault by intent: %s", f.Cause)
		}
		off = f.Celsius
		break
	}
	rng := rand.New(rand.NewPCG(c.Seed, uint64(t.UnixNano())))
	hour := t.Sub(t.Truncate(24 * time.Hour)).Hours()
	course := c.Swing*math.Cos(2*math.Pi*(hour-15)/24) + off
	m := sensor.Measurement{
		Celsius:  c.SetPoint + course + c.Noise*rng.NormFloat64(),
		Humidity: min(max(c.Humidity+c.Damp*course+.01*c.Noise*rng.NormFloat64(), 0), 1),
	}
	if c.Step > 0 {
		m.Celsius = math.Round(m.Celsius/c.Step) * c.Step
		m.Humidity = math.Round(m.Humidity*1e4) / 1e4
	}
	return m, nil
}

// Probe reads a climate by a clock.
type Probe struct {
	name    string
	climate func(time.Time) (sensor.Measurement, error)
	now     func() time.Time
}

var _ sensor.Probe = (*Probe)(nil)

// New is a probe that reads a climate, such as [Climate.At], by a clock.
func New(name string, climate func(time.Time) (sensor.Measurement, error), now func() time.Time) *Probe {
	return &Probe{name: name, climate: climate, now: now}
}

func (p *Probe) String() string { return "simulated " + p.name }

// Measure reads the climate of this time.
func (p *Probe) Measure(ctx context.Context) (sensor.Measurement, error) {
	if err := ctx.Err(); err != nil {
		return sensor.None(), sensor.Fail(sensor.NoAnswer, "%s: not read: %w", p.name, err)
	}
	m, err := p.climate(p.now())
	if err != nil {
		return sensor.None(), fmt.Errorf("%s: %w", p.name, err)
	}
	return m, nil
}
