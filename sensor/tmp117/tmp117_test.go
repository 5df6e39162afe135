package tmp117

import (
	"math"
	"testing"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/sensortest"
)

var part = sensortest.Part[*i2cbus.Part]{New: New, Addr: 0x48}

func measured(id1, first, id2, second uint16) []i2ctest.IO {
	two := func(v uint16) []byte { return []byte{byte(v >> 8), byte(v)} }
	return []i2ctest.IO{part.Write(1, 0x02, 0x20), part.Register(0x0F, two(id1)...), part.Register(0, two(first)...), part.Register(0x0F, two(id2)...), part.Register(0, two(second)...)}
}

func TestContract(t *testing.T) {
	// 0x0BC0 is 3008 steps of 0.0078125 C (section 7.6, register 0): 23.5 C.
	good := measured(0x0117, 0x0BC0, 0x0117, 0x0BC1)
	want := sensor.Measurement{Celsius: 23.5078125, Humidity: math.NaN()}

	part.Contract(t, good, want, map[string]sensortest.Case{
		"torn":            part.On(sensor.BadFrame, measured(0x117, 0x0BC0, 0x117, 0x0FC0)...),
		"held high":       part.On(sensor.BadFrame, measured(0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF)...),
		"held low":        part.On(sensor.BadFrame, measured(0, 0, 0, 0)...),
		"power just came": part.On(sensor.PowerOn, measured(0x117, 0x8000, 0x117, 0x8000)...),
		"another part":    part.On(sensor.BadFrame, measured(0x075, 0x0BC0, 0x075, 0x0BC0)...),
	})
}

func TestTemperatures(t *testing.T) {
	// The data sheet's table of section 7.6.
	for raw, want := range map[uint16]float64{0x0000: 0, 0x0001: .0078125, 0x0C80: 25, 0xFFFF: -.0078125, 0xF380: -25, 0x7FFF: 255.9921875} {
		b := []byte{0x01, 0x17, byte(raw >> 8), byte(raw)}
		if m, err := decode(append(b, b...)); err != nil || m.Celsius != want {
			t.Errorf("%04x is %v C, %v, want %v", raw, m.Celsius, err, want)
		}
	}
}

func FuzzDecode(f *testing.F) {
	sensortest.Decoder(f, 8, decode, []byte{0x01, 0x17, 0x0B, 0xC0, 0x01, 0x17, 0x0B, 0xC0})
}
