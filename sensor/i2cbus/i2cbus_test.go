package i2cbus

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/sensortest"
)

func TestBusesThatCannotBeOpenedSayWhatToDo(t *testing.T) {
	for _, device := range []string{"", "1", "/dev/i2c-", "/dev/i2c-x", "/dev/i2c-65536", "/dev/i2c-60000"} {
		b, err := Open(device)
		if err == nil {
			t.Errorf("%q is opened as %v", device, b)
			continue
		}
		if sensor.CauseOf(err) != sensor.BusGone {
			t.Errorf("%q: cause of %q is %s", device, err, sensor.CauseOf(err))
		}
	}
}

func TestCheckOfTheDataSheet(t *testing.T) {
	// SHT3x data sheet version 5, p. 14; HTU21D(F) data sheet of October 2013, p. 14.
	for _, c := range []struct {
		start byte
		b     []byte
		want  byte
	}{
		{0xFF, []byte{0xBE, 0xEF}, 0x92}, {0, []byte{0xDC}, 0x79}, {0, []byte{0x68, 0x3A}, 0x7C}, {0, []byte{0x4E, 0x85}, 0x6B},
	} {
		if got := CRC8(c.start, c.b...); got != c.want {
			t.Errorf("check of % X from %02X is %02X, want %02X", c.b, c.start, got, c.want)
		}
	}
	// Every change of one or two bits is seen.
	frame := []byte{0xBE, 0xEF, 0x92}
	for i := range 24 {
		for j := range 24 {
			b := [3]byte(frame)
			b[i/8] ^= 1 << (i % 8)
			if i != j {
				b[j/8] ^= 1 << (j % 8)
			}
			if w, err := Word(0xFF, b[:]); err == nil || w != 0 {
				t.Fatalf("bits %d and %d changed: % X is taken as %04X", i, j, b, w)
			}
		}
	}
}

// counter is a bus that notices two transfers at once.
type counter struct {
	sensortest.Wire
	busy, overlaps atomic.Int32
}

func (c *counter) Tx(uint16, []byte, []byte) error {
	if c.busy.Add(1) > 1 {
		c.overlaps.Add(1)
	}
	runtime.Gosched()
	c.busy.Add(-1)
	return nil
}

func TestOneTransferAtATime(t *testing.T) {
	c := &counter{}
	b := &Locked{Bus: c}
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			for range 500 {
				if err := b.Tx(0x44, []byte{1}, nil); err != nil {
					t.Error(err)
				}
			}
		})
	}
	wg.Wait()
	if n := c.overlaps.Load(); n > 0 {
		t.Errorf("%d transfers began during another", n)
	}
}

func TestAPartHeedsTheContextWhileItWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		wire := &sensortest.Wire{Parts: map[uint16]func(w, r []byte) error{0x44: func(_, _ []byte) error { return nil }}}
		p := &Part{Driver: "part", Bus: wire, Addr: 0x44, Steps: []Step{{Write: []byte{1}, Wait: time.Minute, Read: 2}}}
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		began := time.Now()
		m, err := p.Measure(ctx)
		sensortest.Refused(t, m, err, sensor.NoAnswer)
		if !errors.Is(err, context.DeadlineExceeded) || time.Since(began) != time.Second {
			t.Errorf("after %v: %v", time.Since(began), err)
		}
	})
}

func TestAPartIsSetUpOnceAndAgainAfterAFault(t *testing.T) {
	var setups int
	fail := false
	wire := &sensortest.Wire{Parts: map[uint16]func(w, r []byte) error{0x44: func(w, _ []byte) error {
		switch {
		case w[0] == 0xFE:
			setups++
		case fail:
			return sensortest.NotAcknowledged()
		}
		return nil
	}}}
	p := &Part{
		Driver: "part", Bus: wire, Addr: 0x44,
		Setup: []Step{{Write: []byte{0xFE}}}, Steps: []Step{{Write: []byte{1}, Read: 2}},
		Decode: func([]byte) (sensor.Measurement, error) { return sensor.Measurement{Celsius: 24}, nil },
	}
	for i, want := range []int{1, 1, 1, 2, 2} {
		fail = i == 2
		if _, err := p.Measure(t.Context()); (err != nil) != fail {
			t.Errorf("measurement %d: %v", i, err)
		}
		if setups != want {
			t.Errorf("measurement %d: set up %d times, want %d", i, setups, want)
		}
	}
}
