package thermal

import "math"

var (
	_ Rate = DegreeDays{}
	_ Rate = Curve{}
)

// DegreeDays is the straight line: heat above a base, summed until a
// requirement is met.
type DegreeDays struct {
	Base     float64 // Celsius; no development at or below it
	Required float64 // Celsius days from laying to hatch
	Upper    float64 // Celsius; warmer than it does no more. 0: no such limit
}

// PerDay is (min(celsius, upper) - base) / required, never negative.
func (d DegreeDays) PerDay(celsius float64) float64 {
	if d.Upper != 0 {
		celsius = math.Min(celsius, d.Upper)
	}
	if !(celsius > d.Base) || !(d.Required > 0) {
		return 0
	}
	return (celsius - d.Base) / d.Required
}

// Curve is the thermal curve: the line bent at both ends. With x = T - Usual the
// rate is exp(-LogDays) exp(Slope x - Bend x^2) a day. Warmer than Upper, or
// than the top of the curve where that is cooler, the rate stays what it is
// there.
type Curve struct {
	Usual   float64 // Celsius: T*, the species' usual incubation temperature
	LogDays float64 // log of the days to hatch at Usual
	Slope   float64 // a kelvin, of the log rate at Usual
	Bend    float64 // a square kelvin
	Upper   float64 // Celsius; 0: only the top of the curve limits it
}

// PerDay is the share of development a day at a constant temperature.
func (c Curve) PerDay(celsius float64) float64 {
	k := c.kernel()
	return math.Exp(-c.LogDays) * k.at(celsius).days
}

// Tangent is the degree-day line that touches the curve at Usual.
func (c Curve) Tangent() DegreeDays {
	return DegreeDays{Base: c.Usual - 1/c.Slope, Required: math.Exp(c.LogDays) / c.Slope, Upper: c.Upper}
}

func (c Curve) kernel() kernel {
	return kernel{usual: c.Usual, upper: c.Upper, slope: c.Slope, bend: c.Bend}
}

// kernel is a rate with its level taken out: days at the usual temperature that
// a day at another one is worth.
type kernel struct {
	usual, upper, slope, bend float64
	coldest, warmest          float64 // that were tested; 0: not known
	line                      bool
}

// lineLeast keeps the logarithm of a line's sum finite below its base. It is
// used to learn, never to sum heat.
const lineLeast = 0.05

// worth is what a day at one temperature is worth in days at the usual one, and
// how that changes with the slope, the bend and the temperature.
type worth struct{ days, bySlope, byBend, byKelvin float64 }

func (k *kernel) at(celsius float64) worth {
	celsius = math.Min(math.Max(celsius, Coldest), Warmest)
	frozen := k.beyond(celsius)
	if frozen {
		celsius = k.upper
	}
	x := celsius - k.usual
	if k.line {
		w := worth{days: 1 + k.slope*x, bySlope: x, byKelvin: k.slope}
		if w.days <= 0 {
			return worth{}
		}
		if frozen {
			w.byKelvin = 0
		}
		return w
	}
	if k.bend > 0 && 2*k.bend*x > k.slope {
		x, frozen = k.slope/(2*k.bend), true
	}
	days := math.Exp(k.slope*x - k.bend*x*x)
	w := worth{days: days, bySlope: days * x, byBend: -days * x * x}
	if !frozen {
		w.byKelvin = days * (k.slope - 2*k.bend*x)
	}
	return w
}

// beyond reports whether the rate at this temperature is held at its limit.
func (k *kernel) beyond(celsius float64) bool {
	return k.upper != 0 && celsius > k.upper
}
