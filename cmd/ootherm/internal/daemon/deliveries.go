package daemon

import (
	"maps"
	"sync"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/station"
)

// deliveries is what the courier says of each sender. Its goroutines note it, the
// station reads it.
type deliveries struct {
	mu   sync.Mutex
	last map[string]station.Undelivered
}

// note takes an attempt: one that fails begins a trouble, one that gets through
// ends it.
func (d *deliveries) note(a outbox.Attempt) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.last == nil {
		d.last = map[string]station.Undelivered{}
	}
	switch {
	case a.Message.ID == "" || a.Outcome.Result == alert.Dropped: // it says nothing of the sender
	case a.Outcome.Result == alert.Delivered:
		d.last[a.Sender] = station.Undelivered{}
	case a.Err != nil:
		t := d.last[a.Sender]
		if t.Err == "" {
			t.Since = a.Outcome.At
		}
		t.Err = a.Outcome.Err
		d.last[a.Sender] = t
	}
}

// all are the senders that were tried since the start.
func (d *deliveries) all() map[string]station.Undelivered {
	d.mu.Lock()
	defer d.mu.Unlock()
	return maps.Clone(d.last)
}
