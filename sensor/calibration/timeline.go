package calibration

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/sensor"
)

// Calibration is what was compared at one time, and from when it holds. Its temperatures
// are Celsius, its humidities ratios; either may have no points.
type Calibration struct {
	From                  time.Time
	Temperature, Humidity []Point
}

// Check gives the reason why a calibration's points make no correction, or nil.
func (c Calibration) Check() error {
	if len(c.Temperature) > 0 {
		if _, _, err := Temperature(c.Temperature...); err != nil {
			return err
		}
	}
	if len(c.Humidity) > 0 {
		if _, _, err := Humidity(c.Humidity...); err != nil {
			return err
		}
	}
	return nil
}

// Timeline is the correction of each probe through time. A correction is applied whenever
// a reading is used and never stored with it, so a calibration that is noted today also
// corrects the readings since it holds. Add fills it; after that it is not changed, and
// any goroutine may use it.
type Timeline map[string][]period

// period is a correction from a time on.
type period struct {
	from time.Time
	Correction
}

// Add adds a probe: its constant offset in kelvin, and its calibrations in the order of
// their times, which replace the offset from then on. Temperature and humidity are apart:
// a calibration at salt points leaves the ice point before it in force. Points that make
// no correction change nothing.
func (t Timeline) Add(probe string, offset float64, calibrations []Calibration) {
	c := Correction{Temperature: Line{Slope: 1, Offset: offset}, Humidity: None()}
	periods := []period{{Correction: c}}
	for _, x := range calibrations {
		if l, _, err := Temperature(x.Temperature...); err == nil {
			c.Temperature, c.TemperatureSD = l, temperatureSD(x.Temperature)
		}
		if l, _, err := Humidity(x.Humidity...); err == nil {
			c.Humidity = l
		}
		periods = append(periods, period{x.From, c})
	}
	t[probe] = periods
}

// At gives the correction of a probe at a time. A probe that was not added has none.
func (t Timeline) At(probe string, at time.Time) Correction { return t.Of(probe).At(at) }

// Periods are the corrections of one probe.
type Periods []period

// Of gives the corrections of a probe. A probe that was not added has none.
func (t Timeline) Of(probe string) Periods { return t[probe] }

// At gives the correction at a time.
func (periods Periods) At(at time.Time) Correction {
	if len(periods) == 0 {
		return Correction{Temperature: None(), Humidity: None()}
	}
	for i := len(periods) - 1; i > 0; i-- {
		if !at.Before(periods[i].from) {
			return periods[i].Correction
		}
	}
	return periods[0].Correction
}

// TemperatureSD is how wrong the corrected temperatures since a time may be throughout, in K,
// one standard deviation: the largest of the corrections in force since then. It is 0 where
// one of them was never compared.
func (periods Periods) TemperatureSD(since time.Time) (sd float64) {
	for i := len(periods) - 1; i >= 0; i-- {
		p := &periods[i]
		if p.TemperatureSD == 0 {
			return 0
		}
		sd = max(sd, p.TemperatureSD)
		if !since.Before(p.from) {
			break
		}
	}
	return sd
}

// Celsius corrects a raw temperature of a probe.
func (t Timeline) Celsius(probe string, at time.Time, raw float64) float64 {
	return t.At(probe, at).Temperature.At(raw)
}

// Measurement corrects a raw measurement of a probe. A humidity below 0 or above 1 becomes
// 0 or 1.
func (t Timeline) Measurement(probe string, at time.Time, raw sensor.Measurement) sensor.Measurement {
	return t.Of(probe).Measurement(at, raw)
}

// Measurement corrects a raw measurement. A humidity below 0 or above 1 becomes 0 or 1.
func (periods Periods) Measurement(at time.Time, raw sensor.Measurement) sensor.Measurement {
	m := periods.At(at).Apply(raw)
	if !math.IsNaN(m.Humidity) {
		m.Humidity = min(max(m.Humidity, 0), 1)
	}
	return m
}

// Changed gives the probes of t whose corrections are not those of another time line.
func (t Timeline) Changed(from Timeline) []string {
	var changed []string
	for probe, periods := range t {
		if !slices.Equal(periods, from[probe]) {
			changed = append(changed, probe)
		}
	}
	slices.Sort(changed)
	return changed
}
