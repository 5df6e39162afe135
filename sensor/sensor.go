// Package sensor says what a probe is and which of its readings are believed.
//
// A probe is measured by a [Poller], one goroutine a bus; each reading then
// passes a [Screen], which may refuse it belief with a named cause. The raw
// values are kept either way.
//
// # How a reading is believed
//
// A driver's own checks come first, then the probe's [Screen], then its neighbours in the
// zone: three readings must agree before a probe is believed again. The cause is stored
// with the raw reading, so that a rebuild leaves out the same readings as the live
// computation. A corrected value is never stored. Alarms go by the worst probe, one that
// disagrees included.
//
// A fault has its own cause. The good readings after it, up to the third, are
// "recovering", or "jump" where they differ from the last believed one. Exactly 85 C is
// never believed, however it was read; 84.9375 C is. A humidity that cannot be refuses the
// reading; three in a row refuse the humidity alone. A humidity that fails beside a good
// temperature is not an error: Measurement.Lacking says why it is NaN. A scraped value
// stamped more than a minute ahead of our clock has no known age. It is believed once a
// later stamp has come, and then ages by our own clock.
package sensor

import (
	"context"
	"math"
	"time"
)

// Measurement is one result of a probe. A quantity that the part does not
// measure, or did not measure this time, is NaN: there is no plausible number
// for an absent value.
type Measurement struct {
	Celsius  float64 // temperature, degrees Celsius
	Humidity float64 // relative humidity, ratio (0.5 is 50 %)
	Lacking  error   // why Humidity is NaN, of a part that measures it; nil of any other
}

// None is the measurement of nothing.
func None() Measurement { return Measurement{Celsius: math.NaN(), Humidity: math.NaN()} }

// Probe is one sensor. Measure returns [None] beside every error. An error may
// have a method Cause() [Cause] that says what kind of failure it was.
type Probe interface {
	Measure(context.Context) (Measurement, error)
	String() string
}

// Cause names why a reading is not believed. The empty cause is belief.
type Cause string

// Causes. A driver's error names one of the first group, a [Screen] one of the
// second.
const (
	NoAnswer Cause = "no-answer"   // the part did not answer, or in time
	BadFrame Cause = "bad-frame"   // it answered and the frame's check failed
	PowerOn  Cause = "power-on"    // the value a part holds before its first conversion
	Ahead    Cause = "clock-ahead" // it is stamped in the future, so how old it is cannot be known
	BusGone  Cause = "bus-gone"    // the bus did not open, or nothing on it answers

	Range      Cause = "range"      // a temperature outside what any part can measure
	Humid      Cause = "humidity"   // a humidity that cannot be: the frame is not believed
	Stuck      Cause = "stuck"      // the same bits for too long
	Jump       Cause = "jump"       // changed faster than air can
	Recovering Cause = "recovering" // in good order, but not yet for long enough after a fault
)

// Stamp is when a reading was taken: the number of the boot, and the time since
// that boot (CLOCK_BOOTTIME). It never steps; the wall clock does.
type Stamp struct {
	Boot   uint32
	Uptime time.Duration
}

// Reading is one measurement of one probe, raw as the part gave it, and whether
// it is believed.
type Reading struct {
	Probe string
	Stamp
	Measurement
	Cause Cause // why it is not believed; empty when it is
}

// Believed reports whether the reading may be used.
func (r Reading) Believed() bool { return r.Cause == "" }

// Sink takes readings. What Append took is readable at once; it is durable when
// Flush returns nil.
type Sink interface {
	Append([]Reading) error
	Flush() error
}
