package recording

import "math"

// What an egg room has as Celsius and as Fahrenheit (our choice): no egg stands 43 C,
// 109 F, for long, and 43 F, 6 C, is a cold cellar; of buried nests the hottest are
// below 40 C.
const (
	mostCelsius    = 43.0
	mostFahrenheit = 120.0
	mistaken       = 0.95 // of all temperatures
)

// Units watches the temperatures of one probe for a column of Fahrenheit that is read
// as Celsius. The zero Units has seen nothing.
type Units struct {
	n, hot      int // temperatures, and those that are Fahrenheit if they are anything
	Least, Most float64
}

// See takes a temperature in Celsius, as it was read. NaN is none.
func (u *Units) See(celsius float64) {
	if math.IsNaN(celsius) {
		return
	}
	u.n++
	if celsius < mostCelsius || celsius > mostFahrenheit {
		return
	}
	if u.hot == 0 {
		u.Least, u.Most = celsius, celsius
	}
	u.hot, u.Least, u.Most = u.hot+1, min(u.Least, celsius), max(u.Most, celsius)
}

// Mistaken reports whether they can hardly be Celsius and may well be Fahrenheit. Least
// and Most are then the ends of what may be.
func (u *Units) Mistaken() bool { return u.hot > 0 && float64(u.hot) >= mistaken*float64(u.n) }
