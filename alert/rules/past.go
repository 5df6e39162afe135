package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/cycle"
	"example.com/ootherm/alert/daily"
	"example.com/ootherm/thermal/book"
)

// Past makes values of what was measured before. A value may be returned before it is rebuilt.
type Past interface {
	// Drifts makes drifts of a probe, one for each of the ends with its limits, taught what
	// the probe measured in the last DriftMemory.
	Drifts(probe string, ends [][]alert.Limit) []Rebuilt[*cycle.Drift, Sample]
	// HumidityDays makes the days of a probe's humidity, taught what it measured in the last
	// HumidityMemory.
	HumidityDays(probe string) Rebuilt[*daily.Trend, Sample]
	// Exposure makes what eggs with some stays felt beyond the limits of a kind. An open last
	// stay goes on.
	Exposure(kind alert.Kind, limit ExposureLimit, stays []book.Stay) Rebuilt[*Exposure, Sample]
	// Probes are the probes that a stay's temperature comes from.
	Probes(stay book.Stay) []string
}

// Rebuilt is a value that follows samples. Those that come while it is rebuilt from the
// history are kept, and followed after that.
type Rebuilt[T, S any] interface {
	Observe(S)
	Get() T
	Ready() bool // it is rebuilt
	Drop()       // it is not needed any more
}

// Sample is what one probe measured: a temperature in C, NaN where it has none, and where it is
// asked for a humidity as a ratio.
type Sample struct {
	Probe    string
	At       time.Time
	Celsius  float64
	Humidity float64
}
