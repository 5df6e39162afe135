// Package words formats figures, times and states for the breeder. It converts Celsius,
// seconds and ratios to the reader's units, the station's local time and plain English.
// The page, the messages and the commands all use it, so that one thing has one wording;
// it must not know which of them asks.
package words

import (
	"math"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/sensor"
)

// Units is the temperature scale of a reader.
type Units string

// The two scales, spelled as in the configuration.
const (
	Fahrenheit Units = "fahrenheit"
	Celsius    Units = "celsius"
)

// Unknown takes the place of a figure that is not known.
const Unknown = "unknown"

// minus is the sign before a negative figure (U+2212). It differs from the hyphen between
// the ends of a range.
const minus = "−"

// Reader holds a reader's units, time zone and current day. The zero value reads Celsius
// and UTC, and shows no year.
type Reader struct {
	Units Units
	Place *time.Location   // nil is UTC
	Today func() time.Time // nil: dates have no year
}

// symbol gives the symbol of the reader's degrees.
func (r Reader) symbol() string {
	if r.Units == Fahrenheit {
		return "°F"
	}
	return "°C"
}

// scale gives the number of the reader's degrees in one kelvin.
func (r Reader) scale() float64 {
	if r.Units == Fahrenheit {
		return sensor.PerKelvin
	}
	return 1
}

// Degrees formats a temperature in Celsius as a bare figure in the reader's units, "78.4".
func (r Reader) Degrees(celsius float64) string {
	if r.Units == Fahrenheit {
		celsius = sensor.ToFahrenheit(celsius)
	}
	return figure(celsius, 1)
}

// Temperature formats a temperature in Celsius, "78.4 °F".
func (r Reader) Temperature(celsius float64) string {
	return r.unit(r.Degrees(celsius))
}

// Difference formats a difference of two temperatures in kelvin, "0.5 °F". It scales and
// never shifts: a difference is not a reading.
func (r Reader) Difference(kelvin float64) string {
	return r.unit(figure(kelvin*r.scale(), 1))
}

// PerHour formats a slope in kelvin per hour, "2.1 °F per hour".
func (r Reader) PerHour(kelvin float64) string {
	s := r.Difference(kelvin)
	if s == Unknown {
		return s
	}
	return s + " per hour"
}

// steadySlope is the slope in kelvin per hour below which a temperature is called steady: a
// tenth of a kelvin in an hour is within the noise of the usual parts (our choice).
const steadySlope = 0.1

// Trend formats a slope in kelvin per hour with its direction, "rising 2.1 °F per hour".
func (r Reader) Trend(kelvin float64) string {
	switch {
	case math.IsNaN(kelvin) || math.IsInf(kelvin, 0):
		return "no trend yet"
	case kelvin >= steadySlope:
		return "rising " + r.PerHour(kelvin)
	case kelvin <= -steadySlope:
		return "falling " + r.PerHour(-kelvin)
	}
	return "steady"
}

// Band formats a range of temperatures in Celsius, either end of which may be nil:
// "72.0-76.0 °F", "above 72.0 °F", "below 76.0 °F", or the empty text.
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

// HumidityBand formats a range of relative humidities, "45-70 %".
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

// between joins the ends of a range.
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

// saturatedHumidity is the relative humidity from which a reading in a box shows wetness
// and is no measurement: capacitive parts creep up to three points in lasting damp (makers'
// data sheets, from memory).
const saturatedHumidity = 0.95

// Humidity formats a relative humidity from its ratio, "52 %".
func (r Reader) Humidity(ratio float64) string {
	s := figure(ratio*100, 0)
	switch {
	case s == Unknown:
		return s
	case ratio >= saturatedHumidity:
		return s + " %, saturated"
	}
	return s + " %"
}

// DegreeDays formats the heat above a base, so far and required, both in Celsius days; the
// base is in Celsius. A reader of Fahrenheit gets all three in Fahrenheit. Eggs that have had
// more than they need have passed it: "the 571 °C days above 14.2 °C are passed by 29".
func (r Reader) DegreeDays(soFar, required, base float64) string {
	had, need := math.Round(soFar*r.scale()), math.Round(required*r.scale())
	unit := r.symbol() + " days above " + r.Temperature(base)
	if had > need {
		return "the " + figure(need, 0) + " " + unit + " that it needs are passed by " + figure(had-need, 0)
	}
	return figure(had, 0) + " of " + figure(need, 0) + " " + unit
}

// Developed formats the share of the development done, "62 % of the way". It rounds down, so
// that 99.6 % is not complete.
func (r Reader) Developed(share float64) string { return percent(share) + " of the way" }

// Observed formats the share of the time that was measured, rounded down.
func (r Reader) Observed(share float64) string {
	if share < 0.01 {
		return "measured under 1 % of the time"
	}
	return "measured " + percent(share) + " of the time"
}

// percent formats a share, rounded down.
func percent(share float64) string {
	// Without the small term 0.29, which is 28.999... % in binary, would become 28 %.
	s := figure(math.Floor(share*100+1e-9), 0)
	if s == Unknown {
		return "an unknown share"
	}
	return s + " %"
}

// Count formats a number of things: "1 egg", "2 eggs", "2 boxes".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// unit adds the symbol of degrees to a figure.
func (r Reader) unit(s string) string {
	if s == Unknown {
		return s
	}
	return s + " " + r.symbol()
}

// figure rounds a value to a number of decimals. NaN and infinity give Unknown, and a
// negative zero loses its sign.
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
