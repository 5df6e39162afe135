package config

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"example.com/ootherm/sensor"
)

// These functions read values with a unit. Their errors are the second half of a fault:
// they tell the user how to write the value.

// decimal matches a plain decimal number. strconv alone would also take hexadecimal, NaN
// and 1e9.
var decimal = regexp.MustCompile(`^[+-]?[0-9]+(\.[0-9]+)?$`)

// split splits "74 °F" into 74 and F.
func split(s string) (v float64, unit string, err error) {
	s = strings.TrimSpace(s)
	end := strings.LastIndexAny(s, "0123456789.,") + 1
	digits, unit := s[:end], strings.TrimSpace(s[end:])
	unit = strings.ToUpper(strings.TrimSpace(strings.TrimPrefix(unit, "°")))
	if strings.Contains(digits, ",") {
		return 0, "", fmt.Errorf("%q has a comma; write a decimal point", s)
	}
	if !decimal.MatchString(digits) {
		return 0, "", fmt.Errorf("%q is not a number with a unit", s)
	}
	v, err = strconv.ParseFloat(digits, 64)
	if err != nil || len(digits) > 20 {
		return 0, "", fmt.Errorf("%q is not a number of sensible length", s)
	}
	return v, unit, nil
}

// Celsius reads an absolute temperature with its unit, such as "74F" or "23.3C". The command
// line writes temperatures as the file does.
func Celsius(s string) (float64, error) {
	v, unit, err := split(s)
	switch {
	case err != nil:
		return 0, fmt.Errorf(`%w; write "74F" or "23.3C"`, err)
	case unit == "F":
		v = sensor.FromFahrenheit(v)
	case unit == "":
		return 0, fmt.Errorf(`%q has no unit; write "%[2]vF" or "%[2]vC"`, s, v)
	case unit != "C":
		return 0, fmt.Errorf(`%q: the unit is F or C; write "74F" or "23.3C"`, s)
	}
	if v < minCelsius || v > maxCelsius {
		return 0, fmt.Errorf("%q is %.4g C, outside %g..%g C; is it the other unit?", s, v, minCelsius, maxCelsius)
	}
	return v, nil
}

// kelvins reads a difference of temperatures. The 32 degrees between the two scales do not
// apply to a difference.
func kelvins(s string) (float64, error) {
	v, unit, err := split(s)
	switch {
	case err != nil:
		return 0, fmt.Errorf(`%w; write a difference as "0.5F" or "0.3C"`, err)
	case unit == "F":
		return v / sensor.PerKelvin, nil
	case unit == "C":
		return v, nil
	case unit == "":
		return 0, fmt.Errorf(`%q has no unit; write "%[2]vF" or "%[2]vC"`, s, v)
	}
	return 0, fmt.Errorf(`%q: the unit is F or C; write a difference as "0.5F" or "0.3C"`, s)
}

// ratio reads a humidity in percent, or a difference of two.
func ratio(s string) (float64, error) {
	v, unit, err := split(s)
	switch {
	case err != nil:
		return 0, fmt.Errorf(`%w; write "45%%"`, err)
	case unit == "":
		return 0, fmt.Errorf(`%q has no unit; write "%v%%"`, s, v)
	case unit != "%":
		return 0, fmt.Errorf(`%q: humidity is in percent; write "45%%"`, s)
	case v < 0 || v > 100:
		return 0, fmt.Errorf("%q is outside 0..100 %%", s)
	}
	return v / 100, nil
}

var days = regexp.MustCompile(`^([0-9]{1,6}(?:\.[0-9]{1,6})?)d(.*)$`)

// span reads a duration as Go writes it. It also takes days before the rest.
func span(s string) (time.Duration, error) {
	const how = `write "10s", "5m", "1h30m" or "2d12h"`
	whole, rest := 0.0, strings.TrimSpace(s)
	if m := days.FindStringSubmatch(rest); m != nil {
		d, err := strconv.ParseFloat(m[1], 64)
		if err != nil {
			return 0, fmt.Errorf("%q is not a span of time; "+how, s)
		}
		whole, rest = d*24*float64(time.Hour), m[2]
		if rest == "" {
			rest = "0s"
		} else if strings.ContainsAny(rest[:1], "+-") {
			return 0, fmt.Errorf("%q is not a span of time; "+how, s)
		}
	} else if _, err := strconv.ParseFloat(rest, 64); err == nil && rest != "0" {
		return 0, fmt.Errorf(`%q has no unit; `+how, s)
	}
	d, err := time.ParseDuration(rest)
	if err != nil {
		return 0, fmt.Errorf("%q is not a span of time; "+how, s)
	}
	total := whole + float64(d)
	if total < 0 {
		return 0, fmt.Errorf("%q is negative; %s", s, how)
	}
	if total > float64(maxSpan) {
		return 0, fmt.Errorf("%q is longer than a year", s)
	}
	return time.Duration(math.Round(total)), nil
}

// checkName returns an error for a name that does not fit a label, a link or a metric.
func checkName(s string) error {
	switch {
	case strings.TrimSpace(s) != s:
		return errors.New("has spaces at an end; remove them")
	case len([]rune(s)) > maxNameLength:
		return fmt.Errorf("is longer than %d characters; shorten it", maxNameLength)
	}
	for _, r := range s {
		if !strconv.IsPrint(r) {
			return fmt.Errorf("has the character %q; use only characters that can be printed", r)
		}
	}
	return nil
}
