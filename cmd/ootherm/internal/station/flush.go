package station

import (
	"fmt"
	"time"
)

// flushing is when the readings were, and will be, made durable.
type flushing struct {
	done    time.Time // the last that succeeded
	next    time.Time
	n       int
	failing bool
}

// After a start the first flushes come sooner, so that a station that keeps
// restarting loses little; then it is the plan's span.
func (f *flushing) wait(every time.Duration) time.Duration {
	early := [...]time.Duration{10 * time.Second, 20 * time.Second, 30 * time.Second, time.Minute}
	if f.n < len(early) {
		return min(early[f.n], every)
	}
	return every
}

// flush makes the readings durable when that is due. What fails is tried again
// at the next tick; the history keeps the readings meanwhile, and the alarm
// storage-failing tells.
func (s *Station) flush() error {
	f := &s.flushes
	if f.next.IsZero() {
		f.next = s.now.Add(f.wait(s.plan.Flush))
		return nil
	}
	if s.now.Before(f.next) {
		return nil
	}
	if err := s.Flush(); err != nil {
		f.next = s.now.Add(s.plan.Every)
		return err
	}
	f.n++
	f.next = s.now.Add(f.wait(s.plan.Flush))
	return nil
}

// Flush makes the readings durable now.
func (s *Station) Flush() error {
	if err := s.o.History.Flush(); err != nil {
		s.flushes.failing = true
		return fmt.Errorf("making the readings durable: %w", err)
	}
	s.flushes.failing, s.flushes.done = false, s.now
	return nil
}
