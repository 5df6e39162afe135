package daemon

import (
	"maps"
	"sync"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/notice"
)

// deliveries keeps the last result of each sender. The courier's goroutines write it, and
// the station reads it.
type deliveries struct {
	mu   sync.Mutex
	last map[string]notice.Failure
}

// record takes an attempt. A failed attempt starts a sender's trouble, and a delivered
// message ends it.
func (d *deliveries) record(a outbox.Attempt) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.last == nil {
		d.last = map[string]notice.Failure{}
	}
	switch {
	case a.Message.ID == "" || a.Outcome.Result == alert.Dropped: // not a result of the sender
	case a.Outcome.Result == alert.Delivered:
		d.last[a.Sender] = notice.Failure{}
	case a.Err != nil:
		t := d.last[a.Sender]
		if t.Err == "" {
			t.Since = a.Outcome.At
		}
		t.Err = a.Outcome.Err
		d.last[a.Sender] = t
	}
}

// all returns the last result of every sender that was tried since the start.
func (d *deliveries) all() map[string]notice.Failure {
	d.mu.Lock()
	defer d.mu.Unlock()
	return maps.Clone(d.last)
}
