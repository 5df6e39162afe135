// Package htu21 reads TE's HTU20D and HTU21D, and Silicon Labs' Si7020 and Si7021,
// which answer alike, over I2C.
//
// Pages are those of the HTU21D(F) data sheet HPC199_3 of October 2013 (p. 14
// seen, the others from memory).
package htu21

import (
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
)

// Address is the only one that the part has.
const Address = 0x40

// New is the part at [Address]. It transfers nothing yet.
func New(b i2c.Bus, addr uint16) (*i2cbus.Part, error) {
	if err := i2cbus.Address(addr, Address); err != nil {
		return nil, err
	}
	return &i2cbus.Part{
		Driver: "htu21", Bus: b, Addr: addr,
		// Soft reset, 15 ms at most (p. 12): heater off, full resolution.
		Setup: []i2cbus.Step{{Write: []byte{0xFE}, Wait: 20 * time.Millisecond}},
		// Without holding the clock (p. 11): temperature in 50 ms at most, humidity
		// in 16 (p. 3), or 23 for an Si7021, which measures both.
		Steps: []i2cbus.Step{
			{Write: []byte{0xF3}, Wait: 55 * time.Millisecond, Read: 3},
			{Write: []byte{0xF5}, Wait: 25 * time.Millisecond, Read: 3},
		},
		Decode: decode,
	}, nil
}

// decode is p. 14 for the check, which starts from 0, and p. 15 for the values,
// whose two lowest bits say which of them it is and count as 0.
func decode(b []byte) (sensor.Measurement, error) {
	t, err := i2cbus.Word(0, b)
	if err != nil {
		return sensor.None(), err
	}
	h, err := i2cbus.Word(0, b[3:])
	if err != nil {
		return sensor.None(), err
	}
	if t == 0 && h == 0 {
		// Zeros have a valid check: a line held low.
		return sensor.None(), sensor.Fail(sensor.BadFrame, "sends nothing but zeros: see its wiring and its pull-up resistors")
	}
	return sensor.Measurement{
		Celsius:  -46.85 + 175.72*float64(t&^3)/65536,
		Humidity: (-6 + 125*float64(h&^3)/65536) / 100,
	}, nil
}
