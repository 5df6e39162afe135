package replay

import (
	"context"
	"fmt"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/digest"
	"example.com/ootherm/alert/outbox"
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

// recipient receives the messages of a replay at the pace of a real sender. Every delivery
// succeeds.
type recipient struct {
	store    *outbox.Memory
	limit    alert.RateLimit
	next     time.Time // when a message that waits may go; zero: nothing waits
	received []Message
}

// only has one recipient take all messages, and no daily report.
func only(p plan.Plan) plan.Plan {
	p.Senders = []plan.Sender{{Name: recipientName}}
	return p
}

// rateLimit gives the pace and the quiet hours of the first sender that gets every message at
// once; the defaults where there is none.
func rateLimit(c config.Config, p plan.Plan) alert.RateLimit {
	limit := alert.RateLimit{Where: p.Location}
	for _, x := range c.Senders {
		if x.After > 0 || len(x.Priorities) > 0 || x.Kind == plan.LampKind {
			continue
		}
		limit.PerHour = x.Most
		if x.Quiet != nil {
			limit.Quiet = alert.Hours{From: x.Quiet.From, To: x.Quiet.To}
		}
		break
	}
	return limit
}

// receive takes what may go at a time, as the courier of a running station does. Posted says
// that messages were committed since the last call.
func (r *recipient) receive(ctx context.Context, now time.Time, posted bool) error {
	for posted || !r.next.IsZero() && !now.Before(r.next) {
		batch, err := r.due(ctx, now)
		if err != nil || len(batch) == 0 {
			return err
		}
		posted = true // more may go
		m := batch[0]
		zone := zoneOf(m)
		for i := range batch {
			batch[i].At = batch[i].At.In(r.where())
		}
		if len(batch) > 1 {
			m = digest.Of(batch)
		}
		m = m.Dated(now)
		r.received = append(r.received, Message{At: now, Zone: snapshot.OptText(zone), Priority: string(m.Priority), Subject: m.Subject, Body: m.Body, Episode: snapshot.OptText(m.Episode())})
		for _, part := range batch {
			if err := r.store.Done(ctx, part.ID, alert.Outcome{Sender: recipientName, Result: alert.Delivered, At: now}); err != nil {
				return err
			}
		}
	}
	return nil
}

// due gives the messages that go together now, and notes when the next may go.
func (r *recipient) due(ctx context.Context, now time.Time) ([]alert.Message, error) {
	waiting, err := r.store.Waiting(ctx)
	if err != nil {
		return nil, err
	}
	r.next = time.Time{}
	due := slices.DeleteFunc(waiting, func(m alert.Message) bool {
		if m.Next.After(now) {
			r.wait(m.Next)
		}
		return m.Next.After(now)
	})
	sent, err := r.store.Sent(ctx, recipientName)
	if err != nil {
		return nil, err
	}
	batch, pause := r.limit.Next(now, due, sent)
	if len(batch) == 0 && pause > 0 {
		r.wait(now.Add(pause))
	}
	return batch, nil
}

// wait has the recipient look again at a time, or before it.
func (r *recipient) wait(until time.Time) {
	if r.next.IsZero() || until.Before(r.next) {
		r.next = until
	}
}

func (r *recipient) where() *time.Location {
	if r.limit.Where == nil {
		return time.UTC
	}
	return r.limit.Where
}

// zoneOf is the zone of the alarm that a message is about; empty where it is about none.
func zoneOf(m alert.Message) string {
	k, err := alert.ParseKey(m.Alarm)
	if err != nil {
		return ""
	}
	return k.Zone
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
