package hdc302x

import (
	"math"
	"testing"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/sensortest"
)

const addr = 0x45

func write(w ...byte) i2ctest.IO { return i2ctest.IO{Addr: addr, W: w} }

func read(r []byte) i2ctest.IO { return i2ctest.IO{Addr: addr, R: r} }

func measured(r []byte) []i2ctest.IO {
	return []i2ctest.IO{write(0x30, 0x93), write(0x30, 0x66), write(0x24, 0x00), read(r)}
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
	// 0xBEEF with its check 0x92 is the data sheet's example; as a humidity it is
	// 74.6 %; 0x648C is 23.73 C.
	good := on("", measured(words(0xFF, 0x648C, 0xBEEF))...)
	good.Want = sensor.Measurement{Celsius: 23.7342641, Humidity: 0.7458457}

	sensortest.Contract(t, sensortest.Driver{
		Package: "hdc302x",
		Good:    good,
		Faults: map[string]sensortest.Case{
			"bad check of the temperature": on(sensor.BadFrame, measured([]byte{0xBE, 0xEF, 0x93, 0xBE, 0xEF, 0x92})...),
			"bad check of the humidity":    on(sensor.BadFrame, measured([]byte{0xBE, 0xEF, 0x92, 0xBE, 0xEE, 0x92})...),
			"held high":                    on(sensor.BadFrame, measured([]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF})...),
			"held low":                     on(sensor.BadFrame, measured(make([]byte, 6))...),

			"not there": silent(sensortest.NotAcknowledged()),
			"held bus":  silent(sensortest.TimedOut()),
		},
	})
	if _, err := New(&sensortest.Wire{}, 0x77); err == nil {
		t.Error("0x77 is taken for an address of the part")
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte{0xBE, 0xEF, 0x92, 0xBE, 0xEF, 0x92})
	f.Add(words(0xFF, 0, 0xFFFF))

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
