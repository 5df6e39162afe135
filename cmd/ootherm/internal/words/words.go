// Package words says figures, times and states as the breeder reads them. Inside
// all is Celsius, seconds and ratios; here, at the edge, they become the
// reader's units, the station's local time and plain words. The page, the
// messages and the commands all speak through it, so that one thing is never
// said in two ways.
package words

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Units is the scale of temperature people read.
type Units string

// The two scales, as the configuration spells them.
const (
	Fahrenheit Units = "fahrenheit"
	Celsius    Units = "celsius"
)

// Unknown stands where there is no figure.
const Unknown = "unknown"

// minus is the sign before a negative figure (U+2212). A hyphen stands between
// the two ends of a range, so the two cannot be mistaken.
const minus = "−"

// Reader is who reads: in which units, in which place the clock hangs, and on what
// day. The zero value reads Celsius and UTC, and takes every year for this one.
type Reader struct {
	Units Units
	Place *time.Location   // nil is UTC
	Today func() time.Time // nil: no date has its year
}

func (r Reader) symbol() string {
	if r.Units == Fahrenheit {
		return "°F"
	}
	return "°C"
}

// scale is how many of the reader's degrees make one kelvin.
func (r Reader) scale() float64 {
	if r.Units == Fahrenheit {
		return 1.8
	}
	return 1
}

// Degrees is a temperature in Celsius as a bare figure in the reader's units,
// "78.4".
func (r Reader) Degrees(celsius float64) string {
	c := celsius * r.scale()
	if r.Units == Fahrenheit {
		c += 32
	}
	return figure(c, 1)
}

// Temperature is a temperature in Celsius, "78.4 °F".
func (r Reader) Temperature(celsius float64) string {
	return r.unit(r.Degrees(celsius))
}

// Difference is a distance between two temperatures in kelvin, "0.5 °F". It is
// scaled and never shifted: a difference is not a reading.
func (r Reader) Difference(kelvin float64) string {
	return r.unit(figure(kelvin*r.scale(), 1))
}

// PerHour is a slope in kelvin per hour, "2.1 °F per hour".
func (r Reader) PerHour(kelvin float64) string {
	s := r.Difference(kelvin)
	if s == Unknown {
		return s
	}
	return s + " per hour"
}

// level is the slope in kelvin per hour below which the air is called steady: a
// tenth of a kelvin in an hour is within the noise of the usual parts (our
// choice).
const level = 0.1

// Trend is a slope in kelvin per hour with its direction, "rising 2.1 °F per
// hour".
func (r Reader) Trend(kelvin float64) string {
	switch {
	case math.IsNaN(kelvin) || math.IsInf(kelvin, 0):
		return "trend " + Unknown
	case kelvin >= level:
		return "rising " + r.PerHour(kelvin)
	case kelvin <= -level:
		return "falling " + r.PerHour(-kelvin)
	}
	return "steady"
}

// Band is a range of temperatures in Celsius, either end of which may be nil:
// "72.0-76.0 °F", "above 72.0 °F", "below 76.0 °F", or nothing at all.
func (r Reader) Band(low, high *float64) string {
	var l, h *string
	if low != nil {
		s := r.Degrees(*low)
		l = &s
	}
	if high != nil {
		s := r.Degrees(*high)
		h = &s
	}
	if s := between(l, h); s != "" {
		return r.unit(s)
	}
	return ""
}

// HumidityBand is a range of relative humidities, "45-70 %".
func (r Reader) HumidityBand(low, high *float64) string {
	var l, h *string
	if low != nil {
		s := figure(*low*100, 0)
		l = &s
	}
	if high != nil {
		s := figure(*high*100, 0)
		h = &s
	}
	if s := between(l, h); s != "" {
		return s + " %"
	}
	return ""
}

func between(low, high *string) string {
	switch {
	case low != nil && high != nil:
		if strings.HasPrefix(*high, minus) {
			return *low + " to " + *high
		}
		return *low + "-" + *high
	case low != nil:
		return "above " + *low
	case high != nil:
		return "below " + *high
	}
	return ""
}

// saturated is the relative humidity from which a reading inside a box is a
// sign of wetness and no measurement: capacitive parts creep up to three points
// in lasting damp (makers' data sheets, from memory).
const saturated = 0.95

// Humidity is a relative humidity from its ratio, "52 %".
func (r Reader) Humidity(ratio float64) string {
	s := figure(ratio*100, 0)
	switch {
	case s == Unknown:
		return s
	case ratio >= saturated:
		return s + " %, saturated"
	}
	return s + " %"
}

// DegreeDays is heat above a base: how much so far, how much is required, both
// in Celsius days, and the base in Celsius. A reader of Fahrenheit gets all
// three in Fahrenheit, so that the sum still holds.
func (r Reader) DegreeDays(soFar, required, base float64) string {
	return fmt.Sprintf("%s of %s %s days above %s",
		figure(soFar*r.scale(), 0), figure(required*r.scale(), 0), r.symbol(), r.Temperature(base))
}

// Developed is the share of the development done, "62 % of the way". It is
// rounded down: 99.6 % is not there yet.
func (r Reader) Developed(share float64) string { return percent(share) + " of the way" }

// Observed is the share of the time that was measured, rounded down.
func (r Reader) Observed(share float64) string {
	return "measured " + percent(share) + " of the time"
}

func percent(share float64) string {
	// The nudge keeps 0.29, which is 28.999... % in binary, at 29 %.
	s := figure(math.Floor(share*100+1e-9), 0)
	if s == Unknown {
		return "an unknown share"
	}
	return s + " %"
}

// Count is a number of things: "1 egg", "2 eggs", "2 boxes".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

func (r Reader) unit(s string) string {
	if s == Unknown {
		return s
	}
	return s + " " + r.symbol()
}

// figure rounds to so many decimals; a value that is none, or that rounds to a
// negative zero, does not show as one.
func figure(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return Unknown
	}
	s := strconv.FormatFloat(math.Abs(v), 'f', decimals, 64)
	if v < 0 && strings.Trim(s, "0.") != "" {
		return minus + s
	}
	return s
}
