package sensortest

import (
	"errors"
	"math/rand/v2"
	"slices"
	"sync"
	"syscall"
	"testing"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/i2c/i2ctest"
	"periph.io/x/conn/v3/physic"
)

// Playback is a bus that expects exactly these transfers, in order, and fails the
// test for any other and for each that is left.
func Playback(tb testing.TB, ops ...i2ctest.IO) i2c.Bus {
	p := &i2ctest.Playback{Ops: ops, DontPanic: true}
	tb.Cleanup(func() {
		if err := p.Close(); err != nil {
			tb.Error(err)
		}
	})
	return p
}

// Wire is a bus of simulated parts whose transfers can be spoiled.
type Wire struct {
	// Parts answer by address: what was written, and what to fill.
	Parts map[uint16]func(w, r []byte) error
	// Spoil, where set, follows each answer: it may change what is read, fail the
	// transfer, or hang.
	Spoil func(w, r []byte) error

	mu sync.Mutex
}

var _ i2c.Bus = (*Wire)(nil)

func (w *Wire) String() string { return "wire" }

// SetSpeed does nothing.
func (w *Wire) SetSpeed(physic.Frequency) error { return nil }

// Tx makes a transfer with a part; an address without one is not acknowledged.
func (w *Wire) Tx(addr uint16, write, read []byte) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	part := w.Parts[addr]
	if part == nil {
		return NotAcknowledged()
	}
	if err := part(write, read); err != nil {
		return err
	}
	if w.Spoil != nil {
		return w.Spoil(write, read)
	}
	return nil
}

// NotAcknowledged is the error of a part that is not there, as the kernel gives it.
func NotAcknowledged() error { return errors.Join(errors.New("i2c"), syscall.EREMOTEIO) }

// TimedOut is the error of a bus that is held.
func TimedOut() error { return errors.Join(errors.New("i2c"), syscall.ETIMEDOUT) }

// Corrupt spoils what is read in that share of the transfers, in one of the ways
// wires do: a few bits, a burst, the rest held high or low, each byte twice, all
// shifted by some bits, or noise. It reports each time through seen, if set.
func Corrupt(rng *rand.Rand, share float64, seen func()) func(w, r []byte) error {
	return func(_, r []byte) error {
		if len(r) == 0 || rng.Float64() >= share {
			return nil
		}
		if seen != nil {
			seen()
		}
		corruptions[rng.IntN(len(corruptions))](rng, r)
		return nil
	}
}

// corruptions are the ways in which Corrupt spoils what was read.
var corruptions = [...]func(*rand.Rand, []byte){
	func(rng *rand.Rand, r []byte) { // a few bits
		for range 1 + rng.IntN(3) {
			flipBit(r, rng.IntN(8*len(r)))
		}
	},
	func(rng *rand.Rand, r []byte) { // a burst
		from := rng.IntN(8 * len(r))
		for i := from; i < min(8*len(r), from+1+rng.IntN(16)); i++ {
			if rng.IntN(2) == 0 {
				flipBit(r, i)
			}
		}
	},
	func(rng *rand.Rand, r []byte) { fillBytes(r[rng.IntN(len(r)):], 0xFF) },
	func(rng *rand.Rand, r []byte) { fillBytes(r[rng.IntN(len(r)):], 0) },
	func(_ *rand.Rand, r []byte) { // each byte twice
		for i := len(r) - 1; i > 0; i-- {
			r[i] = r[i/2]
		}
	},
	shiftBits,
	func(rng *rand.Rand, r []byte) { // noise
		for i := range r {
			r[i] = byte(rng.Uint32())
		}
	},
}

func flipBit(r []byte, i int) { r[i/8] ^= 0x80 >> (i % 8) }

func fillBytes(r []byte, v byte) {
	for i := range r {
		r[i] = v
	}
}

// shiftBits is a clock edge too many or too few. The line is high when no part
// pulls it.
func shiftBits(rng *rand.Rand, r []byte) {
	was, by, bits := slices.Clone(r), 1+rng.IntN(7), 8*len(r)
	if rng.IntN(2) == 0 {
		by = -by
	}
	for i := range bits {
		j, one := i+by, true
		if j >= 0 && j < bits {
			one = was[j/8]&(0x80>>(j%8)) != 0
		}
		if now := r[i/8]&(0x80>>(i%8)) != 0; now != one {
			flipBit(r, i)
		}
	}
}
