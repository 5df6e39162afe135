package mcp9808

import (
	"math"
	"testing"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

const addr = 0x18

func write(w ...byte) i2ctest.IO { return i2ctest.IO{Addr: addr, W: w} }

func read(reg byte, r ...byte) i2ctest.IO { return i2ctest.IO{Addr: addr, W: []byte{reg}, R: r} }

func measured(maker1, first, maker2, second uint16) []i2ctest.IO {
	two := func(v uint16) []byte { return []byte{byte(v >> 8), byte(v)} }
	return []i2ctest.IO{write(1, 0, 0), read(6, two(maker1)...), read(5, two(first)...), read(6, two(maker2)...), read(5, two(second)...)}
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
	// Alert bits above, a step between the two readings.
	good := on("", measured(0x54, 0xC178, 0x54, 0xC179)...)
	good.Want = sensor.Measurement{Celsius: 23.5625, Humidity: math.NaN()}

	sensortest.Contract(t, sensortest.Driver{
		Package: "mcp9808",
		Good:    good,
		Faults: map[string]sensortest.Case{
			"torn":              on(sensor.BadFrame, measured(0x54, 0x0178, 0x54, 0x0578)...),
			"held high":         on(sensor.BadFrame, measured(0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF)...),
			"held low":          on(sensor.BadFrame, measured(0, 0, 0, 0)...),
			"held low at first": on(sensor.BadFrame, measured(0, 0x0178, 0x54, 0x0178)...),

			"not there": silent(sensortest.NotAcknowledged()),
			"held bus":  silent(sensortest.TimedOut()),
		},
	})
	if _, err := New(&sensortest.Wire{}, 0x77); err == nil {
		t.Error("0x77 is taken for an address of the part")
	}
}

func TestTemperatures(t *testing.T) {
	for raw, want := range map[uint16]float64{
		0x0000: 0, 0x0001: .0625, 0x0190: 25, 0xE190: 25, 0x07FF: 127.9375, 0x1FFF: -.0625, 0x1E70: -25, 0x1D80: -40,
	} {
		if got := celsius([]byte{byte(raw >> 8), byte(raw)}); got != want {
			t.Errorf("%04x is %v C, want %v", raw, got, want)
		}
	}
}

func FuzzDecode(f *testing.F) {
	f.Add([]byte{0, 0x54, 1, 0x78, 0, 0x54, 1, 0x78})

	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) != 8 {
			return
		}
		m, err := decode(b)
		if (err != nil) != math.IsNaN(m.Celsius) || math.IsInf(m.Celsius, 0) {
			t.Fatalf("% x is %+v, %v", b, m, err)
		}
	})
}
