// Package tmp117 reads Texas Instruments' TMP117 and TMP119, thermometers good to
// 0.1 C and better, over I2C. Their frames have no check, so registers are read
// twice.
//
// Sections are those of the TMP117 data sheet, SNOSD82 (numbers from memory).
package tmp117

import (
	"math"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
)

// New is the part at address 0x48 to 0x4B. It transfers nothing yet.
func New(b i2c.Bus, addr uint16) (*i2cbus.Part, error) {
	if err := i2cbus.Address(addr, 0x48, 0x49, 0x4A, 0x4B); err != nil {
		return nil, err
	}
	// What it is (register 0x0F) and its temperature (register 0), section 7.6.
	read := []i2cbus.Step{{Write: []byte{0x0F}, Read: 2}, {Write: []byte{0}, Read: 2}}
	return &i2cbus.Part{
		Driver: "tmp117", Bus: b, Addr: addr,
		// Measuring once a second, eight samples averaged: the configuration it
		// starts with (section 7.6, register 1: 0x0220). The first value takes 125 ms.
		Setup:  []i2cbus.Step{{Write: []byte{1, 0x02, 0x20}, Wait: 200 * time.Millisecond}},
		Steps:  slices.Concat(read, read),
		Decode: decode,
	}, nil
}

// step is the part's, 0.0078125 C (section 7.6, register 0). A new value may
// arrive between the two readings, and moves by some steps; the later is taken.
const step = 0.0078125

func decode(b []byte) (sensor.Measurement, error) {
	for _, id := range [][]byte{b[:2], b[4:6]} {
		if part := uint16(id[0])<<8&0x0FFF | uint16(id[1]); part != 0x117 {
			return sensor.None(), sensor.Fail(sensor.BadFrame, "says that it is % x, not a TMP117: see its address and its wiring", id)
		}
	}
	first, second := int16(uint16(b[2])<<8|uint16(b[3])), int16(uint16(b[6])<<8|uint16(b[7]))
	if first == math.MinInt16 || second == math.MinInt16 {
		// -256 C: nothing measured since power came (section 7.6, register 0).
		return sensor.None(), sensor.Fail(sensor.PowerOn, "has not measured since it got power: see its supply")
	}
	if d := int(first) - int(second); d < -32 || d > 32 {
		return sensor.None(), sensor.Fail(sensor.BadFrame, "sent %.4f and then %.4f C at once: shorten the cable or slow the bus", float64(first)*step, float64(second)*step)
	}
	return sensor.Measurement{Celsius: float64(second) * step, Humidity: math.NaN()}, nil
}
