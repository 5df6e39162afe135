package setup

import (
	"fmt"
	"math"
	"strings"

	"example.com/ootherm/cmd/ootherm/internal/prompt"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/thermal/profile"
)

// wanted gives the band outside which a place warns, Celsius. It reports false where there
// is none: the species has none, or the set point is outside it, and then the breeder's
// choice counts.
func (p place) wanted() (profile.Band, bool) {
	if p.ownBand != nil {
		return *p.ownBand, true
	}
	x := p.species.Wanted
	return x, x != (profile.Band{}) && (p.setPoint == "" || p.setPointCelsius >= x.Low && p.setPointCelsius <= x.High)
}

// limitsText gives a band for a person, "80.6-84.2 °F". An end may be open.
func limitsText(x profile.Band, r words.Reader) string {
	switch {
	case math.IsInf(x.Low, 0):
		return "up to " + r.Temperature(x.High)
	case math.IsInf(x.High, 0):
		return "from " + r.Temperature(x.Low)
	}
	return r.Degrees(x.Low) + "-" + r.Temperature(x.High)
}

// askLimits says outside which limits each place warns, where no temperature was given for
// it, and whether a probe there is outside them now. Then it asks for other limits.
func (w *wizard) askLimits(t *dialog) error {
	r := words.Reader{Units: w.units}
	for i := range w.places {
		p := &w.places[i]
		x, ok := p.wanted()
		if !ok || len(p.probes) == 0 {
			continue
		}
		known := "No temperature given for " + p.name + ". "
		if p.setPoint != "" {
			known = "In " + p.name + ": "
		}
		text := fmt.Sprintf("%sAlarms come outside %s (usual for %s).", known, limitsText(x, r), p.species.Name)
		outside := w.outsideText(*p, r)
		if p.setPoint == "" || outside != "" {
			t.Say("%s%s", text, outside)
		}
		for p.setPoint == "" && outside != "" {
			changed, err := w.askOtherLimits(t, p)
			if err != nil {
				return err
			}
			if !changed {
				break
			}
			x, _ := p.wanted()
			outside = w.outsideText(*p, r)
			t.Say("Alarms come outside %s.%s", limitsText(x, r), outside)
		}
	}
	return nil
}

// outsideText tells of the first probe of a place that is outside the limits now. It is
// empty where none is.
func (w *wizard) outsideText(p place, r words.Reader) string {
	x, _ := p.wanted()
	for _, name := range p.probes {
		if c, ok := w.readings[name]; ok && (c < x.Low || c > x.High) {
			return fmt.Sprintf(" The probe %s reads %s, so an alarm will come.", name, r.Temperature(c))
		}
	}
	return ""
}

// askOtherLimits asks for the limits of a place. It reports false for Enter alone, which
// keeps them.
func (w *wizard) askOtherLimits(t *dialog, p *place) (changed bool, err error) {
	unit, example := "C", "22-25"
	if w.units == words.Fahrenheit {
		unit, example = "F", "72-77"
	}
	for {
		answer, err := t.Ask("Other limits for " + p.name + ", in " + unit + ", as " + example + " (Enter: keep these)")
		if err != nil || answer == "" {
			return false, err
		}
		if x, ok := parseLimits(answer, unit); ok {
			p.ownBand = &x
			return true, nil
		}
		r := words.Reader{Units: w.units}
		t.Say("%q is no lower and upper limit between %s and %s.", answer, r.Temperature(minSetPoint), r.Temperature(maxSetPoint))
	}
}

// parseLimits reads "72-77", in F or C, as a band in Celsius.
func parseLimits(text, unit string) (x profile.Band, ok bool) {
	low, high, found := strings.Cut(text, "-")
	if !found {
		return x, false
	}
	for _, e := range []struct {
		text string
		c    *float64
	}{{low, &x.Low}, {high, &x.High}} {
		v, err := prompt.Degrees(e.text, unit)
		if err != nil {
			return x, false
		}
		if unit == "F" {
			v = sensor.FromFahrenheit(v)
		}
		*e.c = v
	}
	return x, x.Low >= minSetPoint && x.Low < x.High && x.High <= maxSetPoint
}
