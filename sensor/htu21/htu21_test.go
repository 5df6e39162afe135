package htu21

import (
	"math"
	"testing"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/sensortest"
)

const addr = Address

func write(w ...byte) i2ctest.IO { return i2ctest.IO{Addr: addr, W: w} }

func measured(r []byte) []i2ctest.IO {
	return []i2ctest.IO{write(0xFE), write(0xF3), {Addr: addr, R: r[:3]}, write(0xF5), {Addr: addr, R: r[3:]}}
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
	// 0x683A has the check 0x7C (p. 14) and is 24.69 C; 0x4E85 has 0x6B, as a
	// humidity 32.3 %.
	good := on("", measured([]byte{0x68, 0x3A, 0x7C, 0x4E, 0x85, 0x6B})...)
	good.Want = sensor.Measurement{Celsius: -46.85 + 175.72*26680.0/65536, Humidity: -.06 + 1.25*20100.0/65536}

	sensortest.Contract(t, sensortest.Driver{
		Package: "htu21",
		Good:    good,
		Faults: map[string]sensortest.Case{
			"bad check of the temperature": on(sensor.BadFrame, measured([]byte{0x68, 0x3B, 0x7C, 0x4E, 0x85, 0x6B})...),
			"bad check of the humidity":    on(sensor.BadFrame, measured([]byte{0x68, 0x3A, 0x7C, 0x4E, 0x84, 0x6B})...),
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
	f.Add([]byte{0x68, 0x3A, 0x7C, 0x4E, 0x85, 0x6B})
	f.Add(words(0, 0, 0))

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
