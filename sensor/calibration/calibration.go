// Package calibration compares a probe with known points: melting ice, the air
// over damp salts, or another thermometer. It is pure.
package calibration

import (
	"errors"
	"fmt"
	"math"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/air"
)

// IcePoint is the temperature of shaved distilled ice with water in its voids
// alone, in Celsius (NIST 1995; ASTM E563). A bagged probe needs 30 min in it.
const IcePoint = 0.0

// Point is one known value and what the probe read there, both Celsius or both
// ratios of humidity.
type Point struct{ Reference, Read float64 }

// Line corrects a reading: slope times reading plus offset.
type Line struct{ Slope, Offset float64 }

// None is the line that corrects nothing.
func None() Line { return Line{Slope: 1} }

// At is the corrected reading.
func (l Line) At(read float64) float64 { return l.Slope*read + l.Offset }

// Warning says, in words for the breeder, why a calibration may be worth less
// than it seems. It is no error: the line can be used.
type Warning struct {
	words   string // with %s for each figure
	figures []figure
}

// figure is Celsius or a ratio, or a difference of two such.
type figure struct {
	v          float64
	difference bool
}

// Say is the warning with its figures as the reader has them: value writes a
// temperature in Celsius or a ratio, difference one of kelvin or of ratios.
func (w Warning) Say(value, difference func(float64) string) string {
	all := make([]any, len(w.figures))
	for i, f := range w.figures {
		if all[i] = value(f.v); f.difference {
			all[i] = difference(f.v)
		}
	}
	return fmt.Sprintf(w.words, all...)
}

// Limits of a fit, all our choice.
const (
	farCelsius = 2.0 // K off: more than any part's maker allows at room temperature
	farRatio   = 0.1 // ratio off
	// A probe that far off was not where the reference was, or is broken: no
	// correction may move a warmth so far that its alarms mean nothing.
	wrongCelsius = 10.0 // K
	// Two points nearer than this say nothing of a slope.
	apartCelsius, apartRatio = 10.0, 0.2
	// A slope further from 1 comes from a bad point, not from a part.
	slopeOff = 0.05
	// Points that the fitted line misses by more disagree with each other.
	missCelsius, missRatio = 0.3, 0.03
	// Where a correction is used: what it is not near it is guessed for.
	eggsFrom, eggsTo = 20.0, 33.0 // C
	nearCelsius      = 5.0        // K
	nearRatio        = 0.25
)

// Temperature fits a correction of temperatures, in Celsius, to one point or
// more: points close together give an offset, points further apart a line. An
// error is a fit that cannot be used, beside which the line is NaN.
func Temperature(points ...Point) (Line, []Warning, error) {
	return fit(points, kind{
		name: "temperature",
		far:  farCelsius, wrong: wrongCelsius, apart: apartCelsius, miss: missCelsius,
		least: -40, most: 125,
		use: [2]float64{eggsFrom, eggsTo}, near: nearCelsius,
	})
}

// Humidity fits a correction of relative humidities, as ratios, in the same way. The
// readings are those after the temperature was corrected, see [Correction].
func Humidity(points ...Point) (Line, []Warning, error) {
	return fit(points, kind{
		name: "humidity",
		far:  farRatio, apart: apartRatio, miss: missRatio,
		least: -.1, most: 1.25,
		use: [2]float64{.4, .8}, near: nearRatio,
	})
}

// kind is what differs between the quantities.
type kind struct {
	name                   string
	far, apart, miss, near float64
	wrong                  float64 // off by more is no correction; 0 is no such end
	least, most            float64 // a reading can be
	use                    [2]float64
}

func (k kind) possible(v float64) bool { return v >= k.least && v <= k.most }

func fit(points []Point, k kind) (Line, []Warning, error) {
	none := Line{math.NaN(), math.NaN()}
	if len(points) == 0 {
		return none, nil, fmt.Errorf("%s: no point to compare with", k.name)
	}
	least, most := math.Inf(1), math.Inf(-1)
	var x, y float64
	for i, p := range points {
		if !k.possible(p.Reference) || !k.possible(p.Read) {
			return none, nil, fmt.Errorf("%s: point %d cannot be: measure it again", k.name, i+1)
		}
		if k.wrong > 0 && math.Abs(p.Reference-p.Read) > k.wrong {
			return none, nil, fmt.Errorf("%s: at point %d the probe is too far off to correct: see that it is in the same bath or air as the reference and begin again; if it is, replace it", k.name, i+1)
		}
		least, most = min(least, p.Read), max(most, p.Read)
		x += p.Read / float64(len(points))
		y += p.Reference / float64(len(points))
	}
	l := Line{1, y - x}
	var warn []Warning
	say := func(words string, f ...figure) { warn = append(warn, Warning{words, f}) }
	apart := func(v float64) figure { return figure{math.Abs(v), true} }
	if most-least >= k.apart {
		var xx, xy float64
		for _, p := range points {
			xx += (p.Read - x) * (p.Read - x)
			xy += (p.Read - x) * (p.Reference - y)
		}
		l.Slope = xy / xx
		l.Offset = y - l.Slope*x
		if math.Abs(l.Slope-1) > slopeOff {
			say(fmt.Sprintf("between the points the probe moves by %.0f %%%% of what it should: a point may be wrong: repeat it", 100/l.Slope))
		}
	} else if len(points) > 1 {
		say("the points are less than %s apart: they give an offset alone", apart(k.apart))
	}
	for i, p := range points {
		if d := p.Reference - p.Read; math.Abs(d) > k.far {
			say(fmt.Sprintf("at point %d the probe is off by %%s: more than a sound one is: replace it, or repeat the point", i+1), apart(d))
		}
		if d := l.At(p.Read) - p.Reference; math.Abs(d) > k.miss {
			say(fmt.Sprintf("point %d is %%s off the others: repeat it", i+1), apart(d))
		}
	}
	if least > k.use[1]+k.near || most < k.use[0]-k.near {
		say("no point is near the %s to %s where it is used: check one there", figure{v: k.use[0]}, figure{v: k.use[1]})
	}
	if !(l.Slope > .5 && l.Slope < 2) {
		return none, nil, fmt.Errorf("%s: no probe reads such points: see that none is swapped", k.name)
	}
	return l, warn, nil
}

// Correction is what is known of a probe.
type Correction struct {
	Temperature, Humidity Line
	// TemperatureSD is how wrong a corrected temperature may be throughout where it is used,
	// in K, one standard deviation; 0: it was never compared.
	TemperatureSD float64
}

// How wrong a probe may be after it was compared with known points, in K: where a point is
// near the temperatures of use, and where all are far from them, as melting ice is. Our
// choice, for a thermometer that is read by eye.
const (
	comparedNearSD = 0.1
	comparedFarSD  = 0.2
)

// temperatureSD is that of a correction by points that make one.
func temperatureSD(points []Point) float64 {
	for _, p := range points {
		if p.Reference >= eggsFrom-nearCelsius && p.Reference <= eggsTo+nearCelsius {
			return comparedNearSD
		}
	}
	return comparedFarSD
}

// Apply corrects a measurement. A probe that reads too warm also reads too dry:
// the humidity is first moved, through the vapour pressure, to the corrected
// temperature, and then corrected itself.
func (c Correction) Apply(m sensor.Measurement) sensor.Measurement {
	celsius := c.Temperature.At(m.Celsius)
	humidity := m.Humidity
	if celsius != m.Celsius {
		humidity = air.AtTemperature(max(m.Humidity, 0), m.Celsius, celsius)
	}
	return sensor.Measurement{Celsius: celsius, Humidity: c.Humidity.At(humidity)}
}

// Salt keeps the air over its damp slurry, in a sealed box for an hour, at a
// humidity that depends on the temperature alone.
type Salt string

// Salts. Lithium chloride is harmful if swallowed.
const (
	LithiumChloride   Salt = "LiCl"
	MagnesiumChloride Salt = "MgCl2"
	SodiumChloride    Salt = "NaCl"
	PotassiumChloride Salt = "KCl"
	PotassiumSulphate Salt = "K2SO4"
)

// greenspan is percent at 15, 20, 25, 30 and 35 C: Greenspan 1977, J Res NBS
// 81A:89 (15 to 25 C checked to a tenth, 30 and 35 C from memory).
func greenspan(s Salt) []float64 {
	switch s {
	case LithiumChloride:
		return []float64{11.30, 11.31, 11.30, 11.28, 11.25}
	case MagnesiumChloride:
		return []float64{33.30, 33.07, 32.78, 32.44, 32.05}
	case SodiumChloride:
		return []float64{75.61, 75.47, 75.29, 75.09, 74.87}
	case PotassiumChloride:
		return []float64{85.92, 85.11, 84.34, 83.62, 82.95}
	case PotassiumSulphate:
		return []float64{97.89, 97.59, 97.30, 97.00, 96.71}
	}
	return nil
}

// SaltFrom and SaltTo are the ends of the tables of salts, in Celsius.
const SaltFrom, SaltTo = 15.0, 35.0

// Humidity is the ratio over the salt at a temperature from [SaltFrom] to [SaltTo],
// between the table's rows on a straight line. Elsewhere, and for another salt, it
// is an error beside NaN.
func (s Salt) Humidity(celsius float64) (float64, error) {
	table := greenspan(s)
	if table == nil {
		return math.NaN(), fmt.Errorf("no table of the salt %q: use NaCl (table salt), K2SO4, KCl, MgCl2 or LiCl", string(s))
	}
	if !(celsius >= SaltFrom && celsius <= SaltTo) {
		return math.NaN(), fmt.Errorf("the table of %s is for %v to %v C, not %.1f: do it in a warmer or cooler room", string(s), SaltFrom, SaltTo, celsius)
	}
	at := (celsius - SaltFrom) / 5
	i := min(int(at), len(table)-2)
	f := at - float64(i)
	return (table[i]*(1-f) + table[i+1]*f) / 100, nil
}

// Settled is the mean of readings taken one after the other, or an error beside
// NaN while they still drift: when the means of the first and the last third
// differ by more than the limit, or there are fewer than six.
func Settled(readings []float64, limit float64) (float64, error) {
	n := len(readings) / 3
	if n < 2 {
		return math.NaN(), errors.New("fewer than six readings: wait for more")
	}
	first, last := mean(readings[:n]), mean(readings[len(readings)-n:])
	if d := math.Abs(last - first); !(d <= limit) {
		return math.NaN(), fmt.Errorf("the probe still moves, by %.3g from the first to the last third: wait longer", d)
	}
	return mean(readings), nil
}

func mean(v []float64) float64 {
	var sum float64
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}
