package station

import (
	"fmt"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// flushes are when the readings were, and will be, made durable.
type flushes struct {
	history History
	done    time.Time // the last that succeeded
	next    time.Time
	n       int
	failing bool
}

// wait is the span to the next flush. After a start the first flushes come sooner, so that
// a station that keeps restarting loses little; then it is the plan's span.
func (f *flushes) wait(every time.Duration) time.Duration {
	early := [...]time.Duration{10 * time.Second, 20 * time.Second, 30 * time.Second, time.Minute}
	if f.n < len(early) {
		return min(early[f.n], every)
	}
	return every
}

// step makes the readings durable when that is due. What fails is tried again at the next
// poll; the history keeps the readings meanwhile, and the alarm storage-failing tells.
func (f *flushes) step(now time.Time, p plan.Plan) error {
	if f.next.IsZero() {
		f.next = now.Add(f.wait(p.Flush))
		return nil
	}
	if now.Before(f.next) {
		return nil
	}
	if err := f.flush(now); err != nil {
		f.next = now.Add(p.Every)
		return err
	}
	f.n++
	f.next = now.Add(f.wait(p.Flush))
	return nil
}

// flush makes the readings durable now.
func (f *flushes) flush(now time.Time) error {
	if err := f.history.Flush(); err != nil {
		f.failing = true
		return fmt.Errorf("making the readings durable: %w", err)
	}
	f.failing, f.done = false, now
	return nil
}

// shift moves the times of this boot when it gets another date.
func (f *flushes) shift(by time.Duration) {
	for _, t := range []*time.Time{&f.done, &f.next} {
		if !t.IsZero() {
			*t = t.Add(by)
		}
	}
}

// last is when the readings were last made durable; nil: not yet.
func (f *flushes) last() *time.Time {
	if f.done.IsZero() {
		return nil
	}
	t := f.done
	return &t
}
