package recording

import (
	"math"

	"example.com/ootherm/sensor"
)

// What an egg room has as Celsius and as Fahrenheit (our choice): no egg stands 43 C,
// 109 F, for long, and 43 F, 6 C, is a cold cellar; of buried nests the hottest are
// below 40 C.
const (
	mostCelsius    = 43.0
	mostFahrenheit = 120.0
	mistaken       = 0.95 // of all temperatures, or humidities

	// The driest air has more, as a ratio, than a ratio has that was divided by 100.
	mostTiny = 0.0125
)

// Units watches one probe for a column of Fahrenheit that is read as Celsius, and one
// of ratios that is read as percent. The zero Units has seen nothing.
type Units struct {
	n, hot      int // temperatures, and those that are Fahrenheit if they are anything
	Least, Most float64
	wet, tiny   int // humidities above nothing, and those that are ratios of percent
}

// See takes a reading as it was read.
func (u *Units) See(m sensor.Measurement) {
	if m.Humidity > 0 {
		u.wet++
		if m.Humidity <= mostTiny {
			u.tiny++
		}
	}
	if math.IsNaN(m.Celsius) {
		return
	}
	u.n++
	if m.Celsius < mostCelsius || m.Celsius > mostFahrenheit {
		return
	}
	if u.hot == 0 {
		u.Least, u.Most = m.Celsius, m.Celsius
	}
	u.hot, u.Least, u.Most = u.hot+1, min(u.Least, m.Celsius), max(u.Most, m.Celsius)
}

// RatioAsPercent reports whether the humidities can hardly be percent and may well be
// ratios.
func (u *Units) RatioAsPercent() bool {
	return u.tiny > 0 && float64(u.tiny) >= mistaken*float64(u.wet)
}

// Mistaken reports whether the temperatures can hardly be Celsius and may well be Fahrenheit. Least
// and Most are then the ends of what may be.
func (u *Units) Mistaken() bool { return u.hot > 0 && float64(u.hot) >= mistaken*float64(u.n) }
