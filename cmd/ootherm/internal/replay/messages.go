package replay

import (
	"context"
	"fmt"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/alert/ratelimit"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Message is what a recipient receives. Several messages that go as one have the zone of the
// most urgent.
type Message struct {
	At       time.Time `json:"at"`   // when it was sent
	Zone     *string   `json:"zone"` // null: it is about no zone
	Priority string    `json:"priority"`
	Subject  string    `json:"subject"`
	Body     string    `json:"body"`
	Episode  *string   `json:"episode"` // the same in all messages of an episode; null: it tells of none
}

// recipientName is the name of the one sender of a replay.
const recipientName = "recipient"

// recipient receives the messages of a replay through the courier of a running station. Every
// delivery succeeds.
type recipient struct {
	store    *outbox.Memory
	courier  *outbox.Courier
	now      time.Time
	next     time.Time // when a message that waits may go; zero: nothing waits
	received []Message
}

func newRecipient(limit ratelimit.Limit) *recipient {
	if limit.Where == nil {
		limit.Where = time.UTC
	}
	r := &recipient{store: outbox.NewMemory(), received: []Message{}}
	route := outbox.Route{Name: recipientName, Sender: r, RateLimit: limit}
	r.courier = outbox.NewCourier(r.store, []outbox.Route{route}, func() time.Time { return r.now }, func(outbox.Attempt) {})
	return r
}

// Send receives a message.
func (r *recipient) Send(_ context.Context, m alert.Message) error {
	zone := ""
	if len(m.Threads) > 0 {
		zone = m.Threads[0].Zone
	}
	r.received = append(r.received, Message{At: r.now, Zone: snapshot.OptText(zone), Priority: string(m.Priority), Subject: m.Subject, Body: m.Body, Episode: snapshot.OptText(m.Episode())})
	return nil
}

// only has one recipient take all messages, and no daily report.
func only(p plan.Plan) plan.Plan {
	p.Senders = []plan.Sender{{Name: recipientName}}
	return p
}

// rateLimit gives the pace and the quiet hours of the first sender that gets every message at
// once; the defaults where there is none.
func rateLimit(c config.Config, p plan.Plan) ratelimit.Limit {
	limit := ratelimit.Limit{Where: p.Location}
	for _, x := range c.Senders {
		if x.After > 0 || len(x.Priorities) > 0 || x.Kind == plan.LampKind {
			continue
		}
		limit.PerHour = x.Most
		if x.Quiet != nil {
			limit.Quiet = ratelimit.Hours{From: x.Quiet.From, To: x.Quiet.To}
		}
		break
	}
	return limit
}

// receive takes what may go at a time. Posted says that messages were committed since the last
// call.
func (r *recipient) receive(ctx context.Context, now time.Time, posted bool) error {
	if !posted && (r.next.IsZero() || now.Before(r.next)) {
		return nil
	}
	r.now = now
	pause, err := r.courier.Round(ctx)
	if err != nil {
		return err
	}
	waiting, err := r.store.Waiting(ctx)
	if r.next = now.Add(pause); len(waiting) == 0 {
		r.next = time.Time{}
	}
	return err
}

// tick lets the time of the station pass, and delivers what may go then.
func (p *player) tick(ctx context.Context, at time.Time) error {
	if err := p.s.Tick(ctx, at); err != nil {
		return err
	}
	return p.deliver(ctx)
}

// deliver delivers what may go at the time of the station.
func (p *player) deliver(ctx context.Context) error {
	if err := p.to.receive(ctx, p.s.Time(), p.s.TakePosted()); err != nil {
		return fmt.Errorf("delivering the messages of the replay: %w", err)
	}
	return nil
}
