// Package hdc302x reads Texas Instruments' HDC3020, HDC3021 and HDC3022 over I2C,
// one measurement at a time: left to measure by itself the part gives the value
// of an earlier moment.
//
// Sections are those of the HDC302x data sheet, SNAS778 (numbers from memory).
package hdc302x

import (
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
)

// New is the part at address 0x44 to 0x47. It transfers nothing yet.
func New(b i2c.Bus, addr uint16) (*i2cbus.Part, error) {
	if err := i2cbus.Address(addr, 0x44, 0x45, 0x46, 0x47); err != nil {
		return nil, err
	}
	return &i2cbus.Part{
		Driver: "hdc302x", Bus: b, Addr: addr,
		Setup: []i2cbus.Step{
			{Write: []byte{0x30, 0x93}, Wait: time.Millisecond}, // to sleep, out of measuring by itself (section 7.5, commands)
			{Write: []byte{0x30, 0x66}, Wait: time.Millisecond}, // heater off
		},
		// One measurement of the lowest noise, 12.5 ms typically (section 6,
		// electrical characteristics).
		Steps:  []i2cbus.Step{{Write: []byte{0x24, 0x00}, Wait: 20 * time.Millisecond, Read: 6}},
		Decode: decode,
	}, nil
}

// decode is section 7.3, the conversion of both outputs.
func decode(b []byte) (sensor.Measurement, error) {
	t, err := i2cbus.Word(0xFF, b)
	if err != nil {
		return sensor.None(), err
	}
	h, err := i2cbus.Word(0xFF, b[3:])
	if err != nil {
		return sensor.None(), err
	}
	return sensor.Measurement{Celsius: -45 + 175*float64(t)/65535, Humidity: float64(h) / 65535}, nil
}
