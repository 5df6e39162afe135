package daemon

import (
	"maps"
	"sync"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/notice"
)

// deliveries keeps the last result of each sender and of the heartbeat. The goroutines of the
// courier and of the heartbeat write it, and the station reads it.
type deliveries struct {
	mu   sync.Mutex
	last map[string]notice.Failure

	heartbeat      notice.Failure // what its last attempt came to
	heartbeatTried bool
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

// recordHeartbeat takes an attempt of the heartbeat; nil: it got out.
func (d *deliveries) recordHeartbeat(err error, at time.Time) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.heartbeatTried = true
	switch {
	case err == nil:
		d.heartbeat = notice.Failure{}
	case d.heartbeat.Err == "":
		d.heartbeat = notice.Failure{Since: at, Err: err.Error()}
	default:
		d.heartbeat.Err = err.Error()
	}
}

// lastHeartbeat returns what the last attempt of the heartbeat came to, and whether there was
// one since the start.
func (d *deliveries) lastHeartbeat() (notice.Failure, bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.heartbeat, d.heartbeatTried
}
