package sht4x

import (
	"testing"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/sensortest"
)

var part = sensortest.Part[*i2cbus.Part]{New: New, Addr: 0x44}

func measured(r []byte) []i2ctest.IO {
	return []i2ctest.IO{part.Write(0xFD), part.Read(r...)}
}

func TestContract(t *testing.T) {
	// 0xBEEF with its check 0x92 is the data sheet's example (section 4.4).
	good := measured([]byte{0xBE, 0xEF, 0x92, 0xBE, 0xEF, 0x92})
	want := sensor.Measurement{Celsius: -45 + 175*48879.0/65535, Humidity: -.06 + 1.25*48879.0/65535}

	part.Contract(t, good, want, map[string]sensortest.Case{
		"bad check of the temperature": part.On(sensor.BadFrame, measured([]byte{0xBE, 0xEF, 0x93, 0xBE, 0xEF, 0x92})...),
		"bad check of the humidity":    part.On(sensor.BadFrame, measured([]byte{0xBE, 0xEF, 0x92, 0xBE, 0xEE, 0x92})...),
		"held high":                    part.On(sensor.BadFrame, measured([]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF})...),
		"held low":                     part.On(sensor.BadFrame, measured(make([]byte, 6))...),
		"damaged":                      part.On(sensor.BadFrame, measured(sensortest.Words(i2cbus.CRC8, 0xFF, 0x8000, 0x8000))...),
	})
}

func TestEndsOfTheScale(t *testing.T) {
	for _, c := range []struct {
		t, h uint16
		want sensor.Measurement
	}{
		{0, 0, sensor.Measurement{Celsius: -45, Humidity: -.06}},
		{0xFFFF, 0xFFFF, sensor.Measurement{Celsius: 130, Humidity: 1.19}},
		{0x8000, 0x7FFF, sensor.Measurement{Celsius: -45 + 175*32768.0/65535, Humidity: -.06 + 1.25*32767.0/65535}},
	} {
		if m, err := decode(sensortest.Words(i2cbus.CRC8, 0xFF, c.t, c.h)); err != nil || !sensortest.Equal(m, c.want) {
			t.Errorf("%04x %04x is %+v, %v, want %+v", c.t, c.h, m, err, c.want)
		}
	}
}

func FuzzDecode(f *testing.F) {
	sensortest.Decoder(f, 6, decode, []byte{0xBE, 0xEF, 0x92, 0xBE, 0xEF, 0x92}, sensortest.Words(i2cbus.CRC8, 0xFF, 0x8000, 0x8000))
}
