package sensortest

import (
	"context"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
)

// Part is how a test reaches the driver of a part on I2C.
type Part[P sensor.Probe] struct {
	New  func(i2c.Bus, uint16) (P, error)
	Addr uint16
}

// Write is a transfer to the part.
func (p Part[P]) Write(w ...byte) i2ctest.IO { return i2ctest.IO{Addr: p.Addr, W: w} }

// Read is a transfer from the part.
func (p Part[P]) Read(r ...byte) i2ctest.IO { return i2ctest.IO{Addr: p.Addr, R: r} }

// Register is a transfer that reads a register.
func (p Part[P]) Register(reg byte, r ...byte) i2ctest.IO {
	return i2ctest.IO{Addr: p.Addr, W: []byte{reg}, R: r}
}

// On is the part after these transfers: in order without a cause, else in that
// condition.
func (p Part[P]) On(cause sensor.Cause, ops ...i2ctest.IO) Case {
	return Case{Cause: cause, Probe: func(tb testing.TB) sensor.Probe { return p.probe(tb, Playback(tb, ops...)) }}
}

func (p Part[P]) probe(tb testing.TB, b i2c.Bus) sensor.Probe {
	tb.Helper()
	probe, err := p.New(b, p.Addr)
	if err != nil {
		tb.Fatal(err)
	}
	return probe
}

// Contract is [Contract] for a part on I2C, of which good are the transfers of a
// first measurement and want what they say. Beside its own faults each part is
// tried on a bus that does not acknowledge, that is held, and that hangs; and at
// an address that it cannot have.
func (p Part[P]) Contract(t *testing.T, good []i2ctest.IO, want sensor.Measurement, faults map[string]Case) {
	silent := func(err error) Case {
		return Case{Cause: sensor.NoAnswer, Probe: func(tb testing.TB) sensor.Probe {
			return p.probe(tb, &Wire{Parts: map[uint16]func(w, r []byte) error{p.Addr: func(_, _ []byte) error { return err }}})
		}}
	}
	faults["not there"] = silent(NotAcknowledged())
	faults["held bus"] = silent(TimedOut())
	inOrder := p.On("", good...)
	inOrder.Want = want
	Contract(t, Driver{Good: inOrder, Faults: faults})
	t.Run("hung bus", func(t *testing.T) { synctest.Test(t, func(t *testing.T) { p.hung(t, good, want) }) })
	if _, err := p.New(&Wire{}, 0x0F); err == nil {
		t.Error("0x0f is taken for an address of the part")
	}
}

// hung has the first transfer hang for ever: the poller gives it up, opens the bus
// again, and measures at a later poll.
func (p Part[P]) hung(t *testing.T, good []i2ctest.IO, want sensor.Measurement) {
	began, free := time.Now(), make(chan struct{})
	opened := 0
	ctx, cancel := context.WithCancel(t.Context())
	var got []sensor.Reading
	poller := sensor.Poller{
		Every: 10 * time.Second, Uptime: func() time.Duration { return time.Since(began) },
		Buses: []sensor.Bus{{Name: "wire", Names: []string{"p"}, Open: func(context.Context) ([]sensor.Probe, func() error, error) {
			if opened++; opened == 1 {
				hangs := func(_, _ []byte) error { <-free; return TimedOut() }
				return []sensor.Probe{p.probe(t, &Wire{Parts: map[uint16]func(w, r []byte) error{p.Addr: hangs}})}, nil, nil
			}
			return []sensor.Probe{p.probe(t, Playback(t, good...))}, nil, nil
		}}},
		Deliver: func(_ context.Context, b sensor.Batch) {
			if got = append(got, b.Readings...); b.Readings[0].Believed() {
				cancel()
			}
		},
	}
	if err := poller.Run(ctx); err != nil {
		t.Error(err)
	}
	close(free)
	if last := got[len(got)-1]; len(got) != 2 || got[0].Cause != sensor.NoAnswer || !Equal(last.Measurement, want) {
		t.Errorf("after a transfer that hangs: %+v", got)
	}
}

// Words is big-endian words as a part sends them, each with its check.
func Words(check func(start byte, b ...byte) byte, start byte, words ...uint16) []byte {
	var frame []byte
	for _, w := range words {
		b := []byte{byte(w >> 8), byte(w)}
		frame = append(frame, b[0], b[1], check(start, b...))
	}
	return frame
}

// Decoder fuzzes what turns a frame of so many bytes into values: they are finite,
// or there is an error and none.
func Decoder(f *testing.F, size int, decode func([]byte) (sensor.Measurement, error), seeds ...[]byte) {
	for _, s := range seeds {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) != size {
			return
		}
		m, err := decode(b)
		if (err != nil) != math.IsNaN(m.Celsius) || math.IsInf(m.Celsius, 0) || err != nil && !math.IsNaN(m.Humidity) || math.IsInf(m.Humidity, 0) {
			t.Fatalf("% x is %+v, %v", b, m, err)
		}
	})
}
