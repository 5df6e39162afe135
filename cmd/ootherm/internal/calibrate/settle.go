package calibrate

import (
	"context"
	"fmt"
	"math"

	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/calibration"
)

// warn shows the warnings of a fit. value and difference format its figures.
func (s *session) warn(all []calibration.Warning, value, difference func(float64) string) {
	for _, w := range all {
		s.t.Say("Consider: %s.", w.Say(value, difference))
	}
}

// settle shows the readings until they have settled, and gives their mean.
func (s *session) settle(ctx context.Context, when string) (sensor.Measurement, error) {
	if _, err := s.t.Ask(when); err != nil {
		return sensor.None(), err
	}
	var celsius, humidity []float64
	var last error
	for n := range maxReadings {
		if n > 0 {
			if err := s.o.wait(ctx, s.every); err != nil {
				return sensor.None(), errInterrupted
			}
		}
		m, err := s.measure(ctx)
		if ctx.Err() != nil {
			return sensor.None(), errInterrupted
		}
		if last = err; err != nil {
			s.t.Say("  no reading: %s", err)
			continue
		}
		celsius, humidity = lastReadings(append(celsius, m.Celsius)), lastReadings(append(humidity, m.Humidity))
		c, err := calibration.Settled(celsius, settledKelvin)
		rh, rhErr := math.NaN(), error(nil)
		line := "  " + s.hundredths(m.Celsius)
		if !math.IsNaN(m.Humidity) {
			rh, rhErr = calibration.Settled(humidity, settledRatio)
			line += fmt.Sprintf(", %.1f %%", m.Humidity*100)
		}
		settled := len(celsius) == settledReadings && err == nil && rhErr == nil
		if !settled {
			s.t.Say("%s, settling", line)
			continue
		}
		s.t.Say("%s, at rest", line)
		return sensor.Measurement{Celsius: c, Humidity: rh}, nil
	}
	if last != nil {
		return sensor.None(), fmt.Errorf("the probe gave no value: %w; nothing was written", last)
	}
	return sensor.None(), usererr.New("the probe did not come to rest; nothing was written; see that the bath or box is closed and still, and start again")
}

// lastReadings gives the readings that decide whether a probe has settled.
func lastReadings(v []float64) []float64 { return v[max(0, len(v)-settledReadings):] }
