// Package i2cbus opens the I2C buses of a Linux board for the drivers of I2C parts.
package i2cbus

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"sync"

	"periph.io/x/conn/v3/i2c"
	"periph.io/x/conn/v3/physic"
	"periph.io/x/host/v3/sysfs"

	"example.com/ootherm/sensor"
)

// Prefix is how the device of a bus begins; its number follows.
const Prefix = "/dev/i2c-"

// Open opens a bus by its device, such as /dev/i2c-1.
func Open(device string) (i2c.BusCloser, error) {
	digits, ok := strings.CutPrefix(device, Prefix)
	n, err := strconv.ParseUint(digits, 10, 16)
	if !ok || err != nil {
		return nil, sensor.Fail(sensor.BusGone, "%q is no I2C bus: give it as %s1", device, Prefix)
	}
	b, err := sysfs.NewI2C(int(n))
	if err != nil {
		return nil, sensor.Fail(sensor.BusGone, "%s: enable I2C on the board and let the station's user into the group i2c: %w", device, err)
	}
	return &Locked{Bus: b, close: b.Close}, nil
}

// Locked is a bus that makes one transfer at a time. The Linux bus of periph
// keeps addresses on the stack across its own lock, which spoils transfers when
// several goroutines use it, as a hung one and its successor do.
type Locked struct {
	Bus   i2c.Bus
	close func() error

	mu sync.Mutex
}

var _ i2c.BusCloser = (*Locked)(nil)

// Tx makes one transfer.
func (l *Locked) Tx(addr uint16, w, r []byte) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.Bus.Tx(addr, w, r)
}

// SetSpeed sets the speed of the bus.
func (l *Locked) SetSpeed(f physic.Frequency) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.Bus.SetSpeed(f)
}

// Close closes the bus once its transfer has ended.
func (l *Locked) Close() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.close == nil {
		return nil
	}
	return l.close()
}

func (l *Locked) String() string { return l.Bus.String() }

// Tx makes one transfer with a part, unless the context has ended. A transfer
// that fails is a part that does not answer.
func Tx(ctx context.Context, b i2c.Bus, addr uint16, w, r []byte) error {
	if err := ctx.Err(); err != nil {
		return sensor.Fail(sensor.NoAnswer, "part 0x%02x on %s: not asked: %w", addr, b, err)
	}
	if err := b.Tx(addr, w, r); err != nil {
		return sensor.Fail(sensor.NoAnswer, "part 0x%02x on %s does not answer: see its power, wiring and address: %w", addr, b, err)
	}
	return nil
}

// Address checks that an address is one of those that a part can have.
func Address(addr uint16, of ...uint16) error {
	for _, a := range of {
		if addr == a {
			return nil
		}
	}
	return fmt.Errorf("address 0x%02x is not one of %#02x", addr, of)
}
