// Package mcp9808 reads Microchip's MCP9808, a thermometer, over I2C. Its frames
// have no check, so its registers are read twice.
//
// Pages are those of the MCP9808 data sheet, DS25095A (from memory).
package mcp9808

import (
	"math"
	"slices"
	"time"

	"periph.io/x/conn/v3/i2c"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
)

// New is the part at address 0x18 to 0x1F. It transfers nothing yet.
func New(b i2c.Bus, addr uint16) (*i2cbus.Part, error) {
	if err := i2cbus.Address(addr, 0x18, 0x19, 0x1A, 0x1B, 0x1C, 0x1D, 0x1E, 0x1F); err != nil {
		return nil, err
	}
	// Its maker (register 6, p. 27) and temperature (register 5, p. 24).
	read := []i2cbus.Step{{Write: []byte{6}, Read: 2}, {Write: []byte{5}, Read: 2}}
	return &i2cbus.Part{
		Driver: "mcp9808", Bus: b, Addr: addr,
		// Awake with the alert off (register 1, p. 18), and the first value at the
		// finest step after 250 ms (p. 4).
		Setup:  []i2cbus.Step{{Write: []byte{1, 0, 0}, Wait: 300 * time.Millisecond}},
		Steps:  slices.Concat(read, read),
		Decode: decode,
	}, nil
}

// step is the finest, 0.0625 C (p. 29). A new value may arrive between the two
// readings, and moves by a few steps at most; the later one is taken.
const step = 0.0625

func decode(b []byte) (sensor.Measurement, error) {
	if b[0] != 0 || b[1] != 0x54 || b[4] != 0 || b[5] != 0x54 {
		return sensor.None(), sensor.Fail(sensor.BadFrame, "says that its maker is % x and then % x, not 00 54: see its address and its wiring", b[:2], b[4:6])
	}
	first, second := celsius(b[2:4]), celsius(b[6:8])
	if math.Abs(first-second) > 4*step {
		return sensor.None(), sensor.Fail(sensor.BadFrame, "sent %.4f and then %.4f C at once: shorten the cable or slow the bus", first, second)
	}
	return sensor.Measurement{Celsius: second, Humidity: math.NaN()}, nil
}

// celsius is p. 24: three alert bits, a sign, and twelve bits in sixteenths.
func celsius(b []byte) float64 {
	raw := int16(uint16(b[0])<<8|uint16(b[1])) << 3 >> 3
	return float64(raw) * step
}
