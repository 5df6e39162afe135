package clock

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"golang.org/x/sys/unix"
)

const bootIDFile = "/proc/sys/kernel/random/boot_id"

// Clock reads the clocks of this machine.
type Clock struct{ boot string }

// System returns the clock of this machine. It returns an error if the clock cannot be
// read.
func System() (*Clock, error) {
	b, err := os.ReadFile(bootIDFile)
	if err != nil {
		return nil, fmt.Errorf("reading the boot's identity: %w", err)
	}
	c := &Clock{boot: strings.TrimSpace(string(b))}
	if c.boot == "" {
		return nil, fmt.Errorf("reading the boot's identity: %s is empty", bootIDFile)
	}
	if _, err := c.Read(); err != nil {
		return nil, err
	}
	return c, nil
}

// Boot returns the kernel's random identity of this boot.
func (c *Clock) Boot() string { return c.boot }

// Read reads all clocks. It needs no privilege.
func (c *Clock) Read() (Reading, error) {
	var best Reading
	shortest := time.Duration(-1)
	// Read the wall clock between two readings of the uptime. Of three tries, keep the one
	// that took the shortest time.
	for range 3 {
		before, err := uptime()
		if err != nil {
			return Reading{}, err
		}
		wall := time.Now()
		after, err := uptime()
		if err != nil {
			return Reading{}, err
		}
		if d := after - before; shortest < 0 || d < shortest {
			shortest = d
			best = Reading{Wall: wall.Round(0).UTC(), Uptime: before + d/2}
		}
	}
	var t unix.Timex
	state, err := unix.Adjtimex(&t)
	if err != nil {
		return Reading{}, fmt.Errorf("reading whether the clock is synchronised: adjtimex: %w", err)
	}
	best.Synchronised = t.Status&unix.STA_UNSYNC == 0 && state != unix.TIME_ERROR
	best.Bound = time.Duration(t.Maxerror)*time.Microsecond + shortest
	return best, nil
}

// uptime returns the time since the boot, sleep included.
func uptime() (time.Duration, error) {
	var t unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &t); err != nil {
		return 0, fmt.Errorf("reading the time since the boot: %w", err)
	}
	return time.Duration(t.Nano()), nil
}

// Steps calls stepped, in this goroutine, after each step of the wall clock. It returns
// the context's error when the context ends, or an error if it can see no more steps.
func (c *Clock) Steps(ctx context.Context, stepped func()) error {
	fd, err := unix.TimerfdCreate(unix.CLOCK_REALTIME, unix.TFD_NONBLOCK|unix.TFD_CLOEXEC)
	if err != nil {
		return fmt.Errorf("watching for steps of the clock: timerfd_create: %w", err)
	}
	f := os.NewFile(uintptr(fd), "timerfd")
	defer f.Close()
	// The deadline interrupts a read under way.
	stop := context.AfterFunc(ctx, func() { _ = f.SetReadDeadline(time.Unix(1, 0)) })
	defer stop()
	return watch(ctx, f, func() error { return arm(f) }, stepped)
}

// arm sets the timer to a month ahead. The kernel cancels the timer if the clock is set
// (timerfd(2), TFD_TIMER_CANCEL_ON_SET). A month fits the seconds of a 32-bit kernel.
func arm(f *os.File) error {
	at := unix.ItimerSpec{Value: unix.NsecToTimespec(time.Now().Add(30 * 24 * time.Hour).UnixNano())}
	raw, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var failed error
	err = raw.Control(func(fd uintptr) {
		failed = unix.TimerfdSettime(int(fd), unix.TFD_TIMER_ABSTIME|unix.TFD_TIMER_CANCEL_ON_SET, &at, nil)
	})
	return errors.Join(err, failed)
}

// watch reads the timer until an error. A cancelled timer is a step of the clock. A timer
// that expired is armed again.
func watch(ctx context.Context, timer interface{ Read([]byte) (int, error) }, arm func() error, stepped func()) error {
	for {
		if err := arm(); err != nil {
			return fmt.Errorf("watching for steps of the clock: timerfd_settime: %w", err)
		}
		var count [8]byte
		n, err := timer.Read(count[:])
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.Is(err, unix.ECANCELED):
			stepped()
		case err != nil:
			return fmt.Errorf("watching for steps of the clock: %w", err)
		case n != len(count) || binary.NativeEndian.Uint64(count[:]) == 0:
			return fmt.Errorf("watching for steps of the clock: the timer gave %d bytes", n)
		}
	}
}
