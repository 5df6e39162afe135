package clock

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
)

func TestSystemClockCanBeRead(t *testing.T) {
	c, err := System()
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Boot()) != 36 {
		t.Errorf("the boot's identity is %q", c.Boot())
	}
	a, err := c.Read()
	if err != nil {
		t.Fatal(err)
	}
	b, err := c.Read()
	if err != nil {
		t.Fatal(err)
	}
	if a.Uptime <= 0 || b.Uptime < a.Uptime || a.Wall.Year() < 1970 || b.Bound < 0 {
		t.Errorf("read %+v, then %+v", a, b)
	}
}

func TestStepsEndsWithItsContext(t *testing.T) {
	c, err := System()
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error)
	go func() { done <- c.Steps(ctx, func() {}) }()
	cancel()
	if err := <-done; !errors.Is(err, context.Canceled) {
		t.Errorf("it ended with %v", err)
	}
}

// scriptedTimer is a timer whose reads give the listed results in order.
type scriptedTimer []func([]byte) (int, error)

func (s *scriptedTimer) Read(b []byte) (int, error) {
	if len(*s) == 0 {
		return 0, io.ErrUnexpectedEOF
	}
	next := (*s)[0]
	*s = (*s)[1:]
	return next(b)
}

func expired(n uint64) func([]byte) (int, error) {
	return func(b []byte) (int, error) { return binary.Encode(b, binary.NativeEndian, n) }
}

func TestOnlyCancelledTimerIsAStep(t *testing.T) {
	cancelled := func([]byte) (int, error) { return 0, unix.ECANCELED }
	timer := scriptedTimer{expired(1), cancelled, expired(1), cancelled, cancelled}
	steps, armed := 0, 0
	err := watch(t.Context(), &timer, func() error { armed++; return nil }, func() { steps++ })
	if steps != 3 || armed != 6 || !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("%d steps, armed %d times, %v", steps, armed, err)
	}
}

func TestStepsReturnsItsError(t *testing.T) {
	timer := scriptedTimer{expired(0)}
	err := watch(t.Context(), &timer, func() error { return nil }, func() {})
	if err == nil || !strings.Contains(err.Error(), "watching for steps") {
		t.Errorf("a timer that expired no times gave %v", err)
	}
	err = watch(t.Context(), &timer, func() error { return unix.EINVAL }, func() {})
	if !errors.Is(err, unix.EINVAL) {
		t.Errorf("a timer that cannot be armed gave %v", err)
	}
}
