package daemon

import (
	"context"
	"maps"
	"sync"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/metrics"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/senders"
)

// deliveries keeps the last result of each sender and of the heartbeat. The goroutines of the
// courier and of the heartbeat write it, and the station reads it.
type deliveries struct {
	mu   sync.Mutex
	last map[string]notice.Failure

	attempts map[metrics.Attempt]int

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
	if a.Message.ID != "" {
		if d.attempts == nil {
			d.attempts = map[metrics.Attempt]int{}
		}
		d.attempts[metrics.Attempt{Sender: a.Sender, Result: string(a.Outcome.Result)}]++
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

// sendTest sends a test message by one of the station's senders.
func (d *daemon) sendTest(ctx context.Context, sender string) error {
	err := senders.Test(ctx, d.sending.routes, d.plan, sender, d.time.now)
	if err != nil {
		d.log.Warn("a test message was not delivered", "sender", sender, "err", err)
		return err
	}
	d.log.Info("a test message was delivered", "sender", sender)
	return nil
}

// countedResults are the results of an attempt that are counted.
var countedResults = []alert.Result{alert.Delivered, alert.Retry, alert.Refused, alert.Dropped}

// attemptsOf returns how many attempts of each sender there were since the start, by their
// results. A result that never was is zero.
func (d *deliveries) attemptsOf(senders []plan.Sender) map[metrics.Attempt]int {
	d.mu.Lock()
	defer d.mu.Unlock()
	all := map[metrics.Attempt]int{}
	for _, s := range senders {
		for _, r := range countedResults {
			a := metrics.Attempt{Sender: s.Name, Result: string(r)}
			all[a] = d.attempts[a]
		}
	}
	return all
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
