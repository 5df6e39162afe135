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

func TestThisMachineHasAClock(t *testing.T) {
	c, err := System()
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Boot()) != 36 {
		t.Errorf("the boot is named %q", c.Boot())
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

func TestWatchingForStepsEndsWithItsContext(t *testing.T) {
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

// script is a timer that gives what it is told, in order.
type script []func([]byte) (int, error)

func (s *script) Read(b []byte) (int, error) {
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

func TestOnlyACancelledTimerIsAStep(t *testing.T) {
	cancelled := func([]byte) (int, error) { return 0, unix.ECANCELED }
	timer := script{expired(1), cancelled, expired(1), cancelled, cancelled}
	steps, armed := 0, 0
	err := watch(t.Context(), &timer, func() error { armed++; return nil }, func() { steps++ })
	if steps != 3 || armed != 6 || !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("%d steps, armed %d times, %v", steps, armed, err)
	}
}

func TestWatchingSaysWhyItEnds(t *testing.T) {
	timer := script{expired(0)}
	err := watch(t.Context(), &timer, func() error { return nil }, func() {})
	if err == nil || !strings.Contains(err.Error(), "watch for steps") {
		t.Errorf("a timer that expired no times gave %v", err)
	}
	err = watch(t.Context(), &timer, func() error { return unix.EINVAL }, func() {})
	if !errors.Is(err, unix.EINVAL) {
		t.Errorf("a timer that cannot be armed gave %v", err)
	}
}
