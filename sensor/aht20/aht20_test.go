package aht20

import (
	"testing"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/sensortest"
)

var part = sensortest.Part[*i2cbus.Part]{New: New, Addr: Address}

func measured(r []byte) []i2ctest.IO {
	return []i2ctest.IO{part.Write(0xBE, 0x08, 0x00), part.Write(0xAC, 0x33, 0x00), part.Read(r...)}
}

// frame is a status and raw values of twenty bits, with their check.
func frame(status byte, t, h uint32) []byte {
	b := []byte{status, byte(h >> 12), byte(h >> 4), byte(h<<4) | byte(t>>16), byte(t >> 8), byte(t)}
	return append(b, i2cbus.CRC8(0xFF, b...))
}

func TestContract(t *testing.T) {
	// Section 6: half the scale is 50 C and 50 %; 0x5E000 is 23.4375 C.
	good := measured(frame(0x1C, 0x5E000, 0x80000))
	want := sensor.Measurement{Celsius: 23.4375, Humidity: .5}
	broken := frame(0x1C, 0x5E000, 0x80000)
	broken[4] ^= 1

	part.Contract(t, good, want, map[string]sensortest.Case{
		"bad check":      part.On(sensor.BadFrame, measured(broken)...),
		"held high":      part.On(sensor.BadFrame, measured([]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF})...),
		"held low":       part.On(sensor.BadFrame, measured(make([]byte, 7))...),
		"still busy":     part.On(sensor.NoAnswer, measured(frame(0x9C, 0x5E000, 0x80000))...),
		"not calibrated": part.On(sensor.PowerOn, measured(frame(0x14, 0x5E000, 0x80000))...),
	})
}

func FuzzDecode(f *testing.F) {
	sensortest.Decoder(f, 7, decode, frame(0x1C, 0x5E000, 0x80000), frame(0, 0, 0))
}
