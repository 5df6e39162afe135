package daemon

import (
	"context"
	"sync"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
)

// spill delivers from memory what could not be written: on a full or worn card a
// cold room must still be told. What it delivered is not sent again when the card
// takes it after all; what it did not is, since then it is in the outbox.
type spill struct {
	memory  *outbox.Memory
	courier *outbox.Courier

	mu   sync.Mutex
	done map[delivery]bool
}

// delivery is one message at one sender.
type delivery struct{ id, sender string }

// newSpill gives the spill, and the routes of the outbox on the card, which pass
// over what the spill delivered.
func newSpill(routes []outbox.Route, courier func(outbox.Keeper, []outbox.Route) *outbox.Courier) (*spill, []outbox.Route) {
	s := &spill{memory: outbox.NewMemory(), done: map[delivery]bool{}}
	var fromMemory, fromCard []outbox.Route
	for _, r := range routes {
		m, c := r, r
		m.Sender, c.Sender = spilling{s, r}, passing{s, r}
		fromMemory, fromCard = append(fromMemory, m), append(fromCard, c)
	}
	s.courier = courier(s.memory, fromMemory)
	return s, fromCard
}

// take takes messages that could not be written, and the alarms they tell of.
func (s *spill) take(ctx context.Context, alarms []alert.Alarm, messages []alert.Message) error {
	if err := s.memory.Commit(ctx, alarms, messages); err != nil {
		return err
	}
	s.courier.Wake()
	return nil
}

type spilling struct {
	s *spill
	r outbox.Route
}

func (x spilling) Send(ctx context.Context, m alert.Message) error {
	err := x.r.Sender.Send(ctx, m)
	if err == nil {
		x.s.mu.Lock()
		x.s.done[delivery{m.ID, x.r.Name}] = true
		x.s.mu.Unlock()
	}
	return err
}

type passing struct {
	s *spill
	r outbox.Route
}

func (x passing) Send(ctx context.Context, m alert.Message) error {
	x.s.mu.Lock()
	done := x.s.done[delivery{m.ID, x.r.Name}]
	delete(x.s.done, delivery{m.ID, x.r.Name})
	x.s.mu.Unlock()
	if done {
		return nil
	}
	return x.r.Sender.Send(ctx, m)
}

var (
	_ alert.Sender = spilling{}
	_ alert.Sender = passing{}
)
