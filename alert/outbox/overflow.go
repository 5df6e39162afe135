package outbox

import (
	"context"
	"sync"

	"example.com/ootherm/alert"
)

// Overflow delivers messages from memory while the store cannot be written: a cold room
// must be reported on a full or worn card too. A message that it delivered is not sent
// again when the store takes it later. One that it did not deliver is sent from the
// store.
type Overflow struct {
	memory  *Memory
	courier *Courier

	mu   sync.Mutex
	done map[delivered]bool
}

// delivered is one message at one sender.
type delivered struct{ id, sender string }

// NewOverflow gives the overflow, and the routes for the courier of the store: these skip
// what the overflow delivered. NewCourier makes the courier of the overflow.
func NewOverflow(routes []Route, newCourier func(Keeper, []Route) *Courier) (*Overflow, []Route) {
	o := &Overflow{memory: NewMemory(), done: map[delivered]bool{}}
	var fromMemory, fromStore []Route
	for _, r := range routes {
		m, s := r, r
		m.Sender, s.Sender = recordingSender{o, r}, skippingSender{o, r}
		fromMemory, fromStore = append(fromMemory, m), append(fromStore, s)
	}
	o.courier = newCourier(o.memory, fromMemory)
	return o, fromStore
}

// Run delivers until the context ends, as [Courier.Run] does.
func (o *Overflow) Run(ctx context.Context) { o.courier.Run(ctx) }

// Take takes messages that the store could not write, and their alarms.
func (o *Overflow) Take(ctx context.Context, alarms []alert.Alarm, messages []alert.Message) error {
	if err := o.memory.Commit(ctx, alarms, messages); err != nil {
		return err
	}
	o.courier.Wake()
	return nil
}

// recordingSender remembers what it delivered from memory.
type recordingSender struct {
	overflow *Overflow
	route    Route
}

// Send delivers the message and records that it did.
func (s recordingSender) Send(ctx context.Context, m alert.Message) error {
	err := s.route.Sender.Send(ctx, m)
	if err == nil {
		s.overflow.mu.Lock()
		s.overflow.done[delivered{m.ID, s.route.Name}] = true
		s.overflow.mu.Unlock()
	}
	return err
}

// skippingSender skips what was delivered from memory, once.
type skippingSender struct {
	overflow *Overflow
	route    Route
}

// Send delivers the message unless the overflow did.
func (s skippingSender) Send(ctx context.Context, m alert.Message) error {
	s.overflow.mu.Lock()
	done := s.overflow.done[delivered{m.ID, s.route.Name}]
	delete(s.overflow.done, delivered{m.ID, s.route.Name})
	s.overflow.mu.Unlock()
	if done {
		return nil
	}
	return s.route.Sender.Send(ctx, m)
}

var (
	_ alert.Sender = recordingSender{}
	_ alert.Sender = skippingSender{}
)
