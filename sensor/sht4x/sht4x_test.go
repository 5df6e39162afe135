package sht4x

import (
	"math"
	"testing"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/sensortest"
)

const addr = 0x44

func write(w ...byte) i2ctest.IO { return i2ctest.IO{Addr: addr, W: w} }

func measured(r []byte) []i2ctest.IO {
	return []i2ctest.IO{write(0xFD), {Addr: addr, R: r}}
}

// words is two values with their checks.
func words(start byte, t, h uint16) []byte {
	b := []byte{byte(t >> 8), byte(t), 0, byte(h >> 8), byte(h), 0}
	b[2], b[5] = i2cbus.CRC8(start, b[:2]...), i2cbus.CRC8(start, b[3:5]...)
	return b
}

func on(cause sensor.Cause, ops ...i2ctest.IO) sensortest.Case {
	return sensortest.Case{Cause: cause, Probe: func(t testing.TB) sensor.Probe {
		return probe(t, sensortest.Playback(t, ops...))
	}}
}

func probe(t testing.TB, b i2c.Bus) sensor.Probe {
	t.Helper()
	p, err := New(b, addr)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func silent(err error) sensortest.Case {
	return sensortest.Case{Cause: sensor.NoAnswer, Probe: func(t testing.TB) sensor.Probe {
		return probe(t, &sensortest.Wire{Parts: map[uint16]func(w, r []byte) error{addr: func(_, _ []byte) error { return err }}})
	}}
}

func TestContract(t *testing.T) {
	// 0xBEEF with its check 0x92 is the data sheet's example (section 4.4).
	good := on("", measured([]byte{0xBE, 0xEF, 0x92, 0xBE, 0xEF, 0x92})...)
	good.Want = sensor.Measurement{Celsius: -45 + 175*48879.0/65535, Humidity: -.06 + 1.25*48879.0/65535}

	sensortest.Contract(t, sensortest.Driver{
		Package: "sht4x",
		Good:    good,
		Faults: map[string]sensortest.Case{
			"bad check of the temperature": on(sensor.BadFrame, measured([]byte{0xBE, 0xEF, 0x93, 0xBE, 0xEF, 0x92})...),
			"bad check of the humidity":    on(sensor.BadFrame, measured([]byte{0xBE, 0xEF, 0x92, 0xBE, 0xEE, 0x92})...),
			"held high":                    on(sensor.BadFrame, measured([]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF})...),
			"held low":                     on(sensor.BadFrame, measured(make([]byte, 6))...),
			"damaged":                      on(sensor.BadFrame, measured(words(0xFF, 0x8000, 0x8000))...),

			"not there": silent(sensortest.NotAcknowledged()),
			"held bus":  silent(sensortest.TimedOut()),
		},
	})
	if _, err := New(&sensortest.Wire{}, 0x77); err == nil {
		t.Error("0x77 is taken for an address of the part")
	}
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
		if m, err := decode(words(0xFF, c.t, c.h)); err != nil || !sensortest.Equal(m, c.want) {
			t.Errorf("%04x %04x is %+v, %v, want %+v", c.t, c.h, m, err, c.want)
		}
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte{0xBE, 0xEF, 0x92, 0xBE, 0xEF, 0x92})
	f.Add(words(0xFF, 0x8000, 0x8000))

	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) != 6 {
			return
		}
		m, err := decode(b)
		if (err != nil) != math.IsNaN(m.Celsius) || math.IsInf(m.Celsius, 0) {
			t.Fatalf("% x is %+v, %v", b, m, err)
		}
	})
}
