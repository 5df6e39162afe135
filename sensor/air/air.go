// Package air is the physics of moist air that a breeder needs: vapour pressure,
// dew point, how hard air dries a box. All are pure; what is not a number gives
// NaN, as does a humidity below nothing.
package air

import "math"

const (
	zeroCelsius = 273.15  // K
	gasVapour   = 461.523 // gas constant of water vapour, J/(kg K) (IAPWS, R95)
)

// SaturationPressure is the pressure of water vapour in equilibrium with liquid
// water, in pascals, at a temperature in Celsius. It is the equation of Sonntag
// 1990 (Z. Meteorol. 70:340), which also holds over supercooled water, as
// hygrometers report it.
func SaturationPressure(celsius float64) float64 {
	t := celsius + zeroCelsius
	if !(t > 0) {
		return math.NaN()
	}
	return 100 * math.Exp(-6096.9385/t+16.635794-2.711193e-2*t+1.673952e-5*t*t+2.433502*math.Log(t))
}

// Constants of the Magnus form over water, Sonntag 1990, -45 to 60 C: close
// enough to start from.
const (
	magnusB = 17.62
	magnusC = 243.12 // C
)

// DewPoint is the temperature in Celsius to which air has to cool for dew, from
// its temperature and its relative humidity as a ratio: where saturation has the
// pressure of the vapour in the air. Dry air has none: NaN.
func DewPoint(celsius, humidity float64) float64 {
	if !(humidity > 0) || math.IsInf(humidity, 1) {
		return math.NaN()
	}
	vapour := math.Log(humidity * SaturationPressure(celsius))
	g := math.Log(humidity) + magnusB*celsius/(magnusC+celsius)
	dew := magnusC * g / (magnusB - g)
	// Newton's steps on the logarithm, whose slope hardly changes: three reach the
	// last digit from a few hundredths of a kelvin.
	for range 3 {
		t := dew + zeroCelsius
		slope := 6096.9385/(t*t) - 2.711193e-2 + 2*1.673952e-5*t + 2.433502/t
		dew -= (math.Log(SaturationPressure(dew)) - vapour) / slope
	}
	return dew
}

// Deficit is the vapour-pressure deficit in pascals: how much more vapour the
// air would hold. It is negative past saturation.
func Deficit(celsius, humidity float64) float64 {
	if !(humidity >= 0) {
		return math.NaN()
	}
	return SaturationPressure(celsius) * (1 - humidity)
}

// Absolute is the mass of water vapour in air, in grams a cubic metre.
func Absolute(celsius, humidity float64) float64 {
	if !(humidity >= 0) {
		return math.NaN()
	}
	return 1000 * humidity * SaturationPressure(celsius) / (gasVapour * (celsius + zeroCelsius))
}

// AtTemperature is the relative humidity of the same air at another temperature:
// the vapour in it stays, what it could hold changes. A probe that reads half a
// degree warm reads a humidity too low by it.
func AtTemperature(humidity, from, to float64) float64 {
	if !(humidity >= 0) {
		return math.NaN()
	}
	return humidity * SaturationPressure(from) / SaturationPressure(to)
}
