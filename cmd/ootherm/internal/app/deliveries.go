package app

import (
	"maps"
	"sync"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
)

// deliveries is what the courier says of each sender. Its goroutines note it, the
// station reads it.
type deliveries struct {
	mu       sync.Mutex
	troubles map[string]Undelivered
}

// note takes an attempt: one that fails begins a trouble, one that gets through
// ends it.
func (d *deliveries) note(a outbox.Attempt) {
	d.mu.Lock()
	defer d.mu.Unlock()
	switch {
	case a.Message.ID == "" || a.Outcome.Result == alert.Dropped: // it says nothing of the sender
	case a.Outcome.Result == alert.Delivered:
		delete(d.troubles, a.Sender)
	case a.Err != nil:
		t, had := d.troubles[a.Sender]
		if !had {
			t.Since = a.Outcome.At
		}
		t.Err = a.Outcome.Err
		if d.troubles == nil {
			d.troubles = map[string]Undelivered{}
		}
		d.troubles[a.Sender] = t
	}
}

// all are the senders in trouble.
func (d *deliveries) all() map[string]Undelivered {
	d.mu.Lock()
	defer d.mu.Unlock()
	return maps.Clone(d.troubles)
}
