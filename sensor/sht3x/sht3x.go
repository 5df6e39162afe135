// Package sht3x reads Sensirion's SHT30, SHT31, SHT35 and SHT85 over I2C.
//
// Pages are those of the SHT3x-DIS data sheet, version 5 of May 2018 (p. 14 seen,
// the others from memory).
package sht3x

import (
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
)

// New is the part at address 0x44 or 0x45. It transfers nothing yet.
func New(b i2c.Bus, addr uint16) (*i2cbus.Part, error) {
	if err := i2cbus.Address(addr, 0x44, 0x45); err != nil {
		return nil, err
	}
	return &i2cbus.Part{
		Driver: "sht3x", Bus: b, Addr: addr,
		Setup: []i2cbus.Step{
			{Write: []byte{0x30, 0x93}, Wait: time.Millisecond}, // out of periodic measurement (p. 12)
			{Write: []byte{0x30, 0x66}, Wait: time.Millisecond}, // heater off (p. 13); boards came with it on, reading 4 C warm
		},
		// One measurement of high repeatability without clock stretching (p. 10),
		// in 15.5 ms at most (p. 7).
		Steps:  []i2cbus.Step{{Write: []byte{0x24, 0x00}, Wait: 20 * time.Millisecond, Read: 6}},
		Decode: decode,
	}, nil
}

// decode is p. 14, sections 4.12 and 4.13.
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
