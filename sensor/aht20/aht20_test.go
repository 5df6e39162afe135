package aht20

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
	return []i2ctest.IO{write(0xBE, 0x08, 0x00), write(0xAC, 0x33, 0x00), {Addr: addr, R: r}}
}

// frame is a status and raw values of twenty bits, with their check.
func frame(status byte, t, h uint32) []byte {
	b := []byte{status, byte(h >> 12), byte(h >> 4), byte(h<<4) | byte(t>>16), byte(t >> 8), byte(t)}
	return append(b, i2cbus.CRC8(0xFF, b...))
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
	// Half the scale is 50 C and 50 %; 0x5E000 is 23.4375 C.
	good := on("", measured(frame(0x1C, 0x5E000, 0x80000))...)
	good.Want = sensor.Measurement{Celsius: 23.4375, Humidity: .5}
	broken := frame(0x1C, 0x5E000, 0x80000)
	broken[4] ^= 1

	sensortest.Contract(t, sensortest.Driver{
		Package: "aht20",
		Good:    good,
		Faults: map[string]sensortest.Case{
			"bad check":      on(sensor.BadFrame, measured(broken)...),
			"held high":      on(sensor.BadFrame, measured([]byte{0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF})...),
			"held low":       on(sensor.BadFrame, measured(make([]byte, 7))...),
			"still busy":     on(sensor.NoAnswer, measured(frame(0x9C, 0x5E000, 0x80000))...),
			"not calibrated": on(sensor.PowerOn, measured(frame(0x14, 0x5E000, 0x80000))...),

			"not there": silent(sensortest.NotAcknowledged()),
			"held bus":  silent(sensortest.TimedOut()),
		},
	})
	if _, err := New(&sensortest.Wire{}, 0x77); err == nil {
		t.Error("0x77 is taken for an address of the part")
	}
}

func FuzzDecode(f *testing.F) {
	f.Add(frame(0x1C, 0x5E000, 0x80000))
	f.Add(frame(0, 0, 0))

	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) != 7 {
			return
		}
		m, err := decode(b)
		if (err != nil) != math.IsNaN(m.Celsius) || math.IsInf(m.Celsius, 0) {
			t.Fatalf("% x is %+v, %v", b, m, err)
		}
	})
}
