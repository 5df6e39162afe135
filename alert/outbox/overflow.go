package outbox

import (
	"context"
	"errors"
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
		for _, id := range identities(m) {
			s.overflow.done[delivered{id, s.route.Name}] = true
		}
		s.overflow.mu.Unlock()
	}
	return err
}

// identities are those of a message, or of all that a digest is made of.
func identities(m alert.Message) []string {
	if len(m.Parts) > 0 {
		return m.Parts
	}
	return []string{m.ID}
}

// skippingSender skips what was delivered from memory, once. What it delivers itself waits in
// memory no more.
type skippingSender struct {
	overflow *Overflow
	route    Route
}

// Send delivers the message unless the overflow did. It skips a digest if the overflow
// delivered all of it.
func (s skippingSender) Send(ctx context.Context, m alert.Message) error {
	if s.overflow.delivered(s.route.Name, identities(m)) {
		return nil
	}
	if err := s.route.Sender.Send(ctx, m); err != nil {
		return err
	}
	for _, id := range identities(m) {
		err := s.overflow.memory.Done(ctx, id, alert.Outcome{Sender: s.route.Name, Result: alert.Dropped})
		if err != nil && !errors.Is(err, ErrNotWaiting) {
			return err
		}
	}
	return nil
}

// delivered reports whether the overflow delivered all of some messages to a sender, and
// forgets it: they are asked for once.
func (o *Overflow) delivered(sender string, ids []string) bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	all := true
	for _, id := range ids {
		all = all && o.done[delivered{id, sender}]
		delete(o.done, delivered{id, sender})
	}
	return all
}

var (
	_ alert.Sender = recordingSender{}
	_ alert.Sender = skippingSender{}
)
