// Package aht20 reads Aosong's AHT20 and AHT21 over I2C. (The library's own driver
// waits for the part without heeding a context.)
//
// Sections are those of the AHT20 product manual, version 1.1 (numbers from
// memory).
package aht20

import (
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
)

// Address is the only one that the part has.
const Address = 0x38

// New is the part at [Address]. It transfers nothing yet.
func New(b i2c.Bus, addr uint16) (*i2cbus.Part, error) {
	if err := i2cbus.Address(addr, Address); err != nil {
		return nil, err
	}
	return &i2cbus.Part{
		Driver: "aht20", Bus: b, Addr: addr,
		Setup: []i2cbus.Step{{Write: []byte{0xBE, 0x08, 0x00}, Wait: 10 * time.Millisecond}}, // load the calibration (section 5.4)
		Steps: []i2cbus.Step{{Write: []byte{0xAC, 0x33, 0x00}, Wait: 85 * time.Millisecond, Read: 7}},
		// 80 ms (section 5.4), and a little for slow ones.
		Decode: decode,
	}, nil
}

// decode is section 5.4 for the frame and its check, section 6 for the values of
// twenty bits each.
func decode(b []byte) (sensor.Measurement, error) {
	if crc := i2cbus.CRC8(0xFF, b[:6]...); crc != b[6] {
		return sensor.None(), sensor.Fail(sensor.BadFrame, "sent % x, whose check is %02x: shorten the cable or slow the bus", b, crc)
	}
	switch {
	case b[0]&0x80 != 0:
		return sensor.None(), sensor.Fail(sensor.NoAnswer, "is still busy: power it off and on")
	case b[0]&0x08 == 0:
		return sensor.None(), sensor.Fail(sensor.PowerOn, "has not loaded its calibration: it will be told to")
	}
	h := uint32(b[1])<<12 | uint32(b[2])<<4 | uint32(b[3])>>4
	t := uint32(b[3]&15)<<16 | uint32(b[4])<<8 | uint32(b[5])
	return sensor.Measurement{Celsius: float64(t)/(1<<20)*200 - 50, Humidity: float64(h) / (1 << 20)}, nil
}
