package tmp117

import (
	"math"
	"testing"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

const addr = 0x48

func write(w ...byte) i2ctest.IO { return i2ctest.IO{Addr: addr, W: w} }

func read(reg byte, r ...byte) i2ctest.IO { return i2ctest.IO{Addr: addr, W: []byte{reg}, R: r} }

func measured(id1, first, id2, second uint16) []i2ctest.IO {
	two := func(v uint16) []byte { return []byte{byte(v >> 8), byte(v)} }
	return []i2ctest.IO{write(1, 0x02, 0x20), read(0x0F, two(id1)...), read(0, two(first)...), read(0x0F, two(id2)...), read(0, two(second)...)}
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
	good := on("", measured(0x0117, 0x0BC0, 0x0117, 0x0BC1)...)
	good.Want = sensor.Measurement{Celsius: 23.5078125, Humidity: math.NaN()}

	sensortest.Contract(t, sensortest.Driver{
		Package: "tmp117",
		Good:    good,
		Faults: map[string]sensortest.Case{
			"torn":            on(sensor.BadFrame, measured(0x117, 0x0BC0, 0x117, 0x0FC0)...),
			"held high":       on(sensor.BadFrame, measured(0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF)...),
			"held low":        on(sensor.BadFrame, measured(0, 0, 0, 0)...),
			"power just came": on(sensor.PowerOn, measured(0x117, 0x8000, 0x117, 0x8000)...),
			"another part":    on(sensor.BadFrame, measured(0x075, 0x0BC0, 0x075, 0x0BC0)...),

			"not there": silent(sensortest.NotAcknowledged()),
			"held bus":  silent(sensortest.TimedOut()),
		},
	})
	if _, err := New(&sensortest.Wire{}, 0x77); err == nil {
		t.Error("0x77 is taken for an address of the part")
	}
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
	f.Add([]byte{0x01, 0x17, 0x0B, 0xC0, 0x01, 0x17, 0x0B, 0xC0})

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
