package ds18b20

import (
	"math"
	"regexp"

	"example.com/ootherm/sensor"
)

// oneWire is how the kernel lists a part: its family, and its serial number.
var oneWire = regexp.MustCompile(`^[0-9a-f]{2}-[0-9a-f]{12}$`)

// Families of thermometers that are read (p. 8, w1_therm's table), by the code that an
// id begins with.
const (
	familyS20 = "10" // DS18S20 and DS1820
	family22  = "22" // DS1822
	family28  = "28" // DS18B20
	family42  = "42" // DS28EA00
)

func read(id string) bool {
	switch id[:2] {
	case familyS20, family22, family28, family42:
		return true
	}
	return false
}

// Note says of a part that is no DS18B20 what it is; empty of one.
//
// A DS18S20 measures in steps of 0.5 C, which its counters refine to a sixteenth
// (DS18S20 data sheet 19-5474, "operation - measuring temperature", from memory).
func Note(id string) string {
	if !oneWire.MatchString(id) {
		return ""
	}
	switch id[:2] {
	case familyS20:
		return "a DS18S20: steps of 0.5 °C, refined by its counters to 0.06 °C"
	case family22:
		return "a DS1822"
	case family42:
		return "a DS28EA00"
	}
	return ""
}

// Other says what a part on 1-Wire is that is not read; empty of one that is, of the bus
// itself, and of the ids 00-... which noise makes up.
func Other(id string) string {
	if !oneWire.MatchString(id) || read(id) || id[:2] == "00" {
		return ""
	}
	what := ""
	switch id[:2] { // the maker's list of family codes, from memory
	case "3b":
		return "a thermometer (DS1825, or a MAX31850) that this program does not read"
	case "01", "81":
		what = "a serial number (DS2401)"
	case "05":
		what = "a switch (DS2405)"
	case "12":
		what = "a switch (DS2406)"
	case "29":
		what = "a switch (DS2408)"
	case "3a":
		what = "a switch (DS2413)"
	case "1d":
		what = "a counter (DS2423)"
	case "1f":
		what = "a branch of the bus (DS2409)"
	case "20":
		what = "a voltmeter (DS2450)"
	case "26":
		what = "a battery monitor (DS2438)"
	case "2d":
		what = "a memory (DS2431)"
	default:
		return "a part of family " + id[:2] + " that this program does not know"
	}
	return what + " and no thermometer"
}

// count is the scratchpad of a DS18S20: half degrees, of which the half is left out, a
// quarter less, and what its counters say beside them (data sheet as above, and
// w1_therm's w1_DS18S20_convert_temp, from memory).
func count(path string, frame []byte) (float64, error) {
	remain, per := float64(frame[6]), float64(frame[7])
	if per == 0 || remain > per {
		return math.NaN(), sensor.Fail(sensor.BadFrame, "%s: the frame % x is none of this part: see the probe's wiring", path, frame)
	}
	whole := int16(uint16(frame[1])<<8|uint16(frame[0])) >> 1
	return believable(path, float64(whole)-0.25+(per-remain)/per)
}
