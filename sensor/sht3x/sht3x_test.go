package sht3x

import (
	"testing"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/sensortest"
)

var part = sensortest.Part[*i2cbus.Part]{New: New, Addr: 0x44}

func measured(r []byte) []i2ctest.IO {
	return []i2ctest.IO{part.Write(0x30, 0x93), part.Write(0x30, 0x66), part.Write(0x24, 0x00), part.Read(r...)}
}

func TestContract(t *testing.T) {
	// 0xBEEF with its check 0x92 is the data sheet's example (p. 14); as a humidity it is
	// 74.6 %; 0x648C is 23.73 C.
	good := measured(sensortest.Words(i2cbus.CRC8, 0xFF, 0x648C, 0xBEEF))
	want := sensor.Measurement{Celsius: 23.7342641, Humidity: 0.7458457}

	part.Contract(t, good, want, map[string]sensortest.Case{
		"bad check of the temperature": part.On(sensor.BadFrame, measured([]byte{0xBE, 0xEF, 0x93, 0xBE, 0xEF, 0x92})...),
		"bad check of the humidity":    part.On(sensor.BadFrame, measured([]byte{0xBE, 0xEF, 0x92, 0xBE, 0xEE, 0x92})...),
		"held high":                    part.On(sensor.BadFrame, measured([]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF})...),
		"held low":                     part.On(sensor.BadFrame, measured(make([]byte, 6))...),
	})
}

func FuzzDecode(f *testing.F) {
	sensortest.Decoder(f, 6, decode, []byte{0xBE, 0xEF, 0x92, 0xBE, 0xEF, 0x92}, sensortest.Words(i2cbus.CRC8, 0xFF, 0, 0xFFFF))
}
