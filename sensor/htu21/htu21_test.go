package htu21

import (
	"testing"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/sensortest"
)

var part = sensortest.Part[*i2cbus.Part]{New: New, Addr: Address}

func measured(r []byte) []i2ctest.IO {
	return []i2ctest.IO{part.Write(0xFE), part.Write(0xF3), part.Read(r[:3]...), part.Write(0xF5), part.Read(r[3:]...)}
}

func TestContract(t *testing.T) {
	// 0x683A has the check 0x7C (p. 14) and is 24.69 C; 0x4E85 has 0x6B, as a
	// humidity 32.3 %.
	good := measured([]byte{0x68, 0x3A, 0x7C, 0x4E, 0x85, 0x6B})
	want := sensor.Measurement{Celsius: -46.85 + 175.72*26680.0/65536, Humidity: -.06 + 1.25*20100.0/65536}

	part.Contract(t, good, want, map[string]sensortest.Case{
		"bad check of the temperature": part.On(sensor.BadFrame, measured([]byte{0x68, 0x3B, 0x7C, 0x4E, 0x85, 0x6B})...),
		"bad check of the humidity":    part.On(sensor.BadFrame, measured([]byte{0x68, 0x3A, 0x7C, 0x4E, 0x84, 0x6B})...),
		"held high":                    part.On(sensor.BadFrame, measured([]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF})...),
		"held low":                     part.On(sensor.BadFrame, measured(make([]byte, 6))...),
	})
}

func FuzzDecode(f *testing.F) {
	sensortest.Decoder(f, 6, decode, []byte{0x68, 0x3A, 0x7C, 0x4E, 0x85, 0x6B}, sensortest.Words(i2cbus.CRC8, 0, 0, 0))
}
