package outbox

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"time"

	"example.com/ootherm/alert"
)

// Memory keeps alarms and messages as [Store] does, until the process ends: for a
// replay, which sends no messages, and while the file is being mended.
type Memory struct {
	mu      sync.Mutex
	alarms  map[string]alert.Alarm
	waiting map[string]alert.Message
	queue   []alert.Message // what waits, as it is to be sent; nil: not known
	taken   map[string]Mark
	sent    map[string][]time.Time
}

// NewMemory is an empty one.
func NewMemory() *Memory {
	return &Memory{alarms: map[string]alert.Alarm{}, waiting: map[string]alert.Message{}, taken: map[string]Mark{},
		sent: map[string][]time.Time{}}
}

// Load gives all that is kept.
func (s *Memory) Load(ctx context.Context) ([]alert.Alarm, []alert.Message, error) {
	waiting, err := s.Waiting(ctx)
	if err != nil {
		return nil, nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	var alarms []alert.Alarm
	for _, key := range slices.Sorted(maps.Keys(s.alarms)) {
		alarms = append(alarms, s.alarms[key])
	}
	return alarms, waiting, nil
}

// Waiting gives the messages not yet delivered, as they are to be sent.
func (s *Memory) Waiting(ctx context.Context) ([]alert.Message, error) {
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("reading what waits: %w", err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.queue == nil {
		s.queue = slices.Collect(maps.Values(s.waiting))
		inOrder(s.queue)
	}
	return slices.Clone(s.queue), nil
}

// Alarm gives one alarm by its key, and whether it is kept.
func (s *Memory) Alarm(_ context.Context, key string) (alert.Alarm, bool, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	a, ok := s.alarms[key]
	return a, ok, nil
}

// Sent gives when messages went to a sender, of the last hour at least.
func (s *Memory) Sent(_ context.Context, sender string) ([]time.Time, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.sent[sender]), nil
}

// Last is the last message about a thing for a sender, and whether there was one.
func (s *Memory) Last(_ context.Context, about, sender string) (Mark, bool, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	last, has := s.taken[string(pair(about, sender))]
	return last, has, nil
}

// Commit keeps all of it or nothing.
func (s *Memory) Commit(ctx context.Context, alarms []alert.Alarm, messages []alert.Message) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("committing: %w", err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	taken, waiting := maps.Clone(s.taken), map[string]alert.Message{}
	for _, m := range messages {
		thing, sequence, err := split(m.ID)
		if err != nil {
			return err
		}
		place := string(pair(thing, m.Sender))
		ok, err := fresh(m, sequence, taken[place])
		if err != nil {
			return err
		}
		if ok {
			taken[place] = Mark{sequence, m.At, taken[place].Delivered}
			waiting[string(pair(m.ID, m.Sender))] = m
		}
	}
	s.taken = taken
	if len(waiting) > 0 {
		maps.Copy(s.waiting, waiting)
		s.queue = nil
	}
	for _, a := range alarms {
		s.alarms[a.Key.String()] = a
	}
	return nil
}

// Forget takes alarms away by their keys, with the count of their messages.
func (s *Memory) Forget(ctx context.Context, alarms []string) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("forgetting alarms: %w", err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, key := range alarms {
		delete(s.alarms, key)
		maps.DeleteFunc(s.taken, func(k string, _ Mark) bool { return strings.HasPrefix(k, string(pair(key, ""))) })
	}
	return nil
}

// Done notes what became of a message; [ErrNotWaiting] when it does not wait.
func (s *Memory) Done(ctx context.Context, id string, o alert.Outcome) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("message %s: %w", id, err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.queue = nil
	found := false
	for k, m := range s.waiting {
		if !strings.HasPrefix(k, string(pair(id, ""))) || o.Sender != "" && o.Sender != m.Sender {
			continue
		}
		found = true
		next, keep, err := after(m, o)
		if err != nil {
			return err
		}
		if keep {
			s.waiting[k] = next
		} else {
			delete(s.waiting, k)
			if o.Result == alert.Delivered {
				s.sent[m.Sender] = delivery(s.sent[m.Sender], o.At)
				place := string(pair(about(m.ID), m.Sender))
				if last, has := s.taken[place]; has {
					last.Delivered = o.At
					s.taken[place] = last
				}
			}
		}
	}
	if !found {
		return fmt.Errorf("noting message %s as %s: %w", id, o.Result, ErrNotWaiting)
	}
	return nil
}
