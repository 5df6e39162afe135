package sensor

import (
	"errors"
	"fmt"
)

// fault is a failed measurement with its cause.
type fault struct {
	cause Cause
	err   error
}

func (f *fault) Error() string { return f.err.Error() }
func (f *fault) Unwrap() error { return f.err }
func (f *fault) Cause() Cause  { return f.cause }

// Fail is an error of the given cause, worded as by [fmt.Errorf] (%w wraps).
// Drivers make their errors with it.
func Fail(c Cause, format string, args ...any) error {
	return &fault{cause: c, err: fmt.Errorf(format, args...)}
}

// CauseOf is the cause that an error of a probe carries, or [NoAnswer] where it
// names none: whatever went wrong, the probe did not answer. It is empty for a
// nil error.
func CauseOf(err error) Cause {
	if err == nil {
		return ""
	}
	var c interface{ Cause() Cause }
	if errors.As(err, &c) {
		return c.Cause()
	}
	return NoAnswer
}

// left is an error of a call that still goes on.
type left struct {
	error
	done <-chan struct{}
}

func (l *left) Unwrap() error         { return l.error }
func (l *left) Left() <-chan struct{} { return l.done }

// Leave marks the error of a call that was given up on while it goes on in a
// goroutine; done is closed when it comes back. A [Poller] waits longer and
// longer before it measures such a probe again, so that what is left behind does
// not pile up.
func Leave(done <-chan struct{}, err error) error { return &left{err, done} }
