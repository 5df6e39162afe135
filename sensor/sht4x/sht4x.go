// Package sht4x reads Sensirion's SHT40, SHT41, SHT43 and SHT45 over I2C. The
// part's heater is never used: a pulse spoils the readings after it.
//
// Sections are those of the SHT4x data sheet, version 3 of April 2022 (numbers
// from memory).
package sht4x

import (
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
)

// New is the part at address 0x44, 0x45 or 0x46. It transfers nothing yet.
func New(b i2c.Bus, addr uint16) (*i2cbus.Part, error) {
	if err := i2cbus.Address(addr, 0x44, 0x45, 0x46); err != nil {
		return nil, err
	}
	return &i2cbus.Part{
		Driver: "sht4x", Bus: b, Addr: addr,
		// 0xFD measures with high repeatability (section 4.5), in 8.3 ms at most
		// (section 3.1).
		Steps:  []i2cbus.Step{{Write: []byte{0xFD}, Wait: 10 * time.Millisecond, Read: 6}},
		Decode: decode,
	}, nil
}

// decode is section 4.6. The humidity is outside 0..1 for a dry or wet part, as
// the section says; the caller judges that.
func decode(b []byte) (sensor.Measurement, error) {
	t, err := i2cbus.Word(0xFF, b)
	if err != nil {
		return sensor.None(), err
	}
	h, err := i2cbus.Word(0xFF, b[3:])
	if err != nil {
		return sensor.None(), err
	}
	if t == 0x8000 && h == 0x8000 {
		return sensor.None(), sensor.Fail(sensor.BadFrame, "sends 0x8000 for all, as damaged ones do: replace it")
	}
	return sensor.Measurement{
		Celsius:  -45 + 175*float64(t)/65535,
		Humidity: (-6 + 125*float64(h)/65535) / 100,
	}, nil
}
