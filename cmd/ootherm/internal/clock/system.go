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

// Clock is the machine's own.
type Clock struct{ boot string }

// System is the clock of this machine, or why it cannot be read.
func System() (*Clock, error) {
	b, err := os.ReadFile(bootIDFile)
	if err != nil {
		return nil, fmt.Errorf("which boot this is: %w", err)
	}
	c := &Clock{boot: strings.TrimSpace(string(b))}
	if c.boot == "" {
		return nil, fmt.Errorf("which boot this is: %s is empty", bootIDFile)
	}
	if _, err := c.Read(); err != nil {
		return nil, err
	}
	return c, nil
}

// Boot is the kernel's random name of this boot.
func (c *Clock) Boot() string { return c.boot }

// Read looks at the clocks. It needs no privilege.
func (c *Clock) Read() (Reading, error) {
	var best Reading
	closest := time.Duration(-1)
	// The wall clock is read between two looks at the uptime; of three tries the
	// one that was interrupted least.
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
		if d := after - before; closest < 0 || d < closest {
			closest = d
			best = Reading{Wall: wall.Round(0).UTC(), Uptime: before + d/2}
		}
	}
	var t unix.Timex
	state, err := unix.Adjtimex(&t)
	if err != nil {
		return Reading{}, fmt.Errorf("whether the clock is synchronised: adjtimex: %w", err)
	}
	best.Synchronised = t.Status&unix.STA_UNSYNC == 0 && state != unix.TIME_ERROR
	best.Bound = time.Duration(t.Maxerror)*time.Microsecond + closest
	return best, nil
}

func uptime() (time.Duration, error) {
	var t unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &t); err != nil {
		return 0, fmt.Errorf("the time since the boot: %w", err)
	}
	return time.Duration(t.Nano()), nil
}

// Steps calls stepped after each step of the wall clock, until the context is
// done; it returns the context's error, or why steps can no longer be seen.
// stepped is called from this goroutine.
func (c *Clock) Steps(ctx context.Context, stepped func()) error {
	fd, err := unix.TimerfdCreate(unix.CLOCK_REALTIME, unix.TFD_NONBLOCK|unix.TFD_CLOEXEC)
	if err != nil {
		return fmt.Errorf("watch for steps: timerfd_create: %w", err)
	}
	f := os.NewFile(uintptr(fd), "timerfd")
	defer f.Close()
	// A read under way is interrupted by the deadline.
	stop := context.AfterFunc(ctx, func() { _ = f.SetReadDeadline(time.Unix(1, 0)) })
	defer stop()
	return watch(ctx, f, func() error { return arm(f) }, stepped)
}

// arm sets the timer far ahead, to be cancelled if the clock is set (timerfd(2),
// TFD_TIMER_CANCEL_ON_SET). A month fits the seconds of a 32-bit kernel.
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

// watch reads expiries: a cancelled one is a step, any other only asks to be
// armed again.
func watch(ctx context.Context, timer interface{ Read([]byte) (int, error) }, arm func() error, stepped func()) error {
	for {
		if err := arm(); err != nil {
			return fmt.Errorf("watch for steps: timerfd_settime: %w", err)
		}
		var count [8]byte
		n, err := timer.Read(count[:])
		switch {
		case ctx.Err() != nil:
			return ctx.Err()
		case errors.Is(err, unix.ECANCELED):
			stepped()
		case err != nil:
			return fmt.Errorf("watch for steps: %w", err)
		case n != len(count) || binary.NativeEndian.Uint64(count[:]) == 0:
			return fmt.Errorf("watch for steps: the timer gave %d bytes", n)
		}
	}
}
