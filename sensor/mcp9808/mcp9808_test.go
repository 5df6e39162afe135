package mcp9808

import (
	"math"
	"testing"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/sensortest"
)

var part = sensortest.Part[*i2cbus.Part]{New: New, Addr: 0x18}

func measured(maker1, first, maker2, second uint16) []i2ctest.IO {
	two := func(v uint16) []byte { return []byte{byte(v >> 8), byte(v)} }
	return []i2ctest.IO{part.Write(1, 0, 0), part.Register(6, two(maker1)...), part.Register(5, two(first)...), part.Register(6, two(maker2)...), part.Register(5, two(second)...)}
}

func TestContract(t *testing.T) {
	// 0xC178 is 23.5 C (p. 24) with alert bits above it; a step between the two readings.
	good := measured(0x54, 0xC178, 0x54, 0xC179)
	want := sensor.Measurement{Celsius: 23.5625, Humidity: math.NaN()}

	part.Contract(t, good, want, map[string]sensortest.Case{
		"torn":              part.On(sensor.BadFrame, measured(0x54, 0x0178, 0x54, 0x0578)...),
		"held high":         part.On(sensor.BadFrame, measured(0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF)...),
		"held low":          part.On(sensor.BadFrame, measured(0, 0, 0, 0)...),
		"held low at first": part.On(sensor.BadFrame, measured(0, 0x0178, 0x54, 0x0178)...),
	})
}

func TestTemperatures(t *testing.T) {
	// The equation and the sign of p. 24.
	for raw, want := range map[uint16]float64{
		0x0000: 0, 0x0001: .0625, 0x0190: 25, 0xE190: 25, 0x07FF: 127.9375, 0x1FFF: -.0625, 0x1E70: -25, 0x1D80: -40,
	} {
		if got := celsius([]byte{byte(raw >> 8), byte(raw)}); got != want {
			t.Errorf("%04x is %v C, want %v", raw, got, want)
		}
	}
}

func FuzzDecode(f *testing.F) {
	sensortest.Decoder(f, 8, decode, []byte{0, 0x54, 1, 0x78, 0, 0x54, 1, 0x78})
}
