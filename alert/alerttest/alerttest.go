// Package alerttest has a scripted sender, and the contract that every journal of
// alarms and messages has to meet.
package alerttest

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// Step is one attempt that a [Sender] expects.
type Step struct {
	ID    string        // the message that must come
	Takes time.Duration // before it answers
	Hangs bool          // it answers only when its context ends
	Err   error         // its answer
}

// Sender plays a script of attempts. A test fails when something else comes, or
// when the script is not used up at its end.
type Sender struct {
	t     testing.TB
	mu    sync.Mutex
	steps []Step
	got   []alert.Message
	at    []time.Time
}

// NewSender plays the steps in their order.
func NewSender(t testing.TB, steps ...Step) *Sender {
	s := &Sender{t: t, steps: steps}
	t.Cleanup(func() {
		s.mu.Lock()
		defer s.mu.Unlock()
		for _, left := range s.steps {
			t.Errorf("the script was not used up: %s was never sent", left.ID)
		}
	})
	return s
}

// Send plays one step.
func (s *Sender) Send(ctx context.Context, m alert.Message) error {
	s.mu.Lock()
	s.got, s.at = append(s.got, m), append(s.at, time.Now())
	if len(s.steps) == 0 {
		s.mu.Unlock()
		s.t.Errorf("%s was sent after the end of the script", m.ID)
		return fmt.Errorf("unexpected message %s", m.ID)
	}
	step := s.steps[0]
	s.steps = s.steps[1:]
	s.mu.Unlock()
	if step.ID != m.ID {
		s.t.Errorf("%s was sent, the script says %s", m.ID, step.ID)
	}
	answer := time.After(step.Takes)
	if step.Hangs {
		answer = nil
	}
	select {
	case <-answer:
		return step.Err
	case <-ctx.Done():
		return fmt.Errorf("%s was not answered: %w", m.ID, ctx.Err())
	}
}

// Got is every message that came, and when.
func (s *Sender) Got() ([]alert.Message, []time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]alert.Message(nil), s.got...), append([]time.Time(nil), s.at...)
}

var _ alert.Sender = (*Sender)(nil)
