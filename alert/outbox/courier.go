package outbox

import (
	"context"
	"errors"
	"sync"
	"time"

	"example.com/ootherm/alert"
)

// SendLimit is how long one attempt may take, unless a [Courier] is told
// otherwise.
const SendLimit = time.Minute

// patience is how long a courier sleeps at most before it looks again, so that a
// stepped clock or a missed call costs no more than that.
const patience = time.Minute

// Route is one configured sender. With After it gets only critical alarms that,
// so long after the message, are still active: not acknowledged, hidden or over.
type Route struct {
	Name   string // as in the configuration; messages carry it
	Sender alert.Sender
	After  time.Duration
}

// Takes reports whether a message is for this route at all.
func (r Route) Takes(m alert.Message) bool {
	return r.After == 0 || m.Priority == alert.Critical && !m.Over
}

// Attempt is one try to deliver a message, and what became of it.
type Attempt struct {
	Sender  string
	Message alert.Message
	Outcome alert.Outcome
	Err     error // why it was not delivered, or why the store could not note it or be read; Message.ID is empty for the last
}

// Courier delivers what waits in a store, one goroutine a sender, so that a slow
// one holds up no other.
type Courier struct {
	keeper Keeper
	routes []Route
	now    func() time.Time
	report func(Attempt)
	wake   []chan struct{}

	Limit time.Duration // of one attempt
}

// NewCourier serves the routes by the clock that dates the messages. Report is
// called after each attempt, from several goroutines.
func NewCourier(k Keeper, routes []Route, now func() time.Time, report func(Attempt)) *Courier {
	c := &Courier{keeper: k, routes: routes, now: now, report: report, Limit: SendLimit}
	for range routes {
		c.wake = append(c.wake, make(chan struct{}, 1))
	}
	return c
}

// Wake has the courier look at once; call it after a commit. It never waits.
func (c *Courier) Wake() {
	for _, w := range c.wake {
		select {
		case w <- struct{}{}:
		default: // it has been told already
		}
	}
}

// Run delivers until the context ends, and returns when every sender has let go.
func (c *Courier) Run(ctx context.Context) {
	var wg sync.WaitGroup
	for i, r := range c.routes {
		wg.Go(func() {
			p := post{Courier: c, route: r, noted: map[string]alert.Outcome{}}
			p.run(ctx, c.wake[i])
		})
	}
	wg.Wait()
}

// post is the courier's work for one route.
type post struct {
	*Courier
	route  Route
	noted  map[string]alert.Outcome // happened, but the store failed to note it
	faults int                      // of the store, in a row
}

func (p *post) run(ctx context.Context, wake <-chan struct{}) {
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-timer.C:
		case <-wake:
			if p.faults > 0 {
				continue // the store is failing: the timer says when to look again
			}
		}
		timer.Reset(p.round(ctx))
	}
}

// round sends everything that is due and says how long to sleep.
func (p *post) round(ctx context.Context) time.Duration {
	for ctx.Err() == nil {
		m, wait, err := p.pick(ctx)
		if err == nil && m.ID == "" {
			return wait
		}
		if err == nil {
			err = p.deliver(ctx, m)
		}
		if err != nil {
			p.faults++
			return alert.Wait(p.faults)
		}
		p.faults = 0
	}
	return patience
}

// pick gives the next message that is due, or how long there is none.
func (p *post) pick(ctx context.Context) (alert.Message, time.Duration, error) {
	waiting, err := p.keeper.Waiting(ctx)
	if err != nil {
		if ctx.Err() == nil {
			p.report(Attempt{Sender: p.route.Name, Err: err})
		}
		return alert.Message{}, 0, err
	}
	wait, now := patience, p.now()
	for _, m := range waiting {
		if m.Sender != p.route.Name || m.Refused {
			continue
		}
		due := m.At.Add(p.route.After)
		if m.Next.After(due) {
			due = m.Next
		}
		if left := due.Sub(now); left > 0 {
			wait = min(wait, left)
			continue
		}
		return m, 0, nil
	}
	return alert.Message{}, wait, nil
}

// deliver makes one attempt and has the store note it. Its error is the store's.
func (p *post) deliver(ctx context.Context, m alert.Message) error {
	o, happened := p.noted[m.ID]
	var failure error
	if !happened {
		wanted, err := p.wanted(ctx, m)
		if err != nil {
			p.report(Attempt{Sender: p.route.Name, Message: m, Err: err})
			return err
		}
		o = alert.Outcome{Sender: p.route.Name, Result: alert.Dropped, At: p.now()}
		if wanted {
			if o, failure = p.send(ctx, m); failure != nil && ctx.Err() != nil {
				return nil // stopped in the middle: it waits for the next start
			}
		}
	}
	// What happened is noted even when the station is stopping.
	err := p.keeper.Done(context.WithoutCancel(ctx), m.ID, o)
	if errors.Is(err, ErrNotWaiting) { // a person dropped it meanwhile
		err = nil
	}
	if err != nil {
		p.noted[m.ID] = o
		failure = errors.Join(failure, err)
	} else {
		delete(p.noted, m.ID)
	}
	p.report(Attempt{Sender: p.route.Name, Message: m, Outcome: o, Err: failure})
	return err
}

// wanted reports whether a message is still worth sending on this route.
func (p *post) wanted(ctx context.Context, m alert.Message) (bool, error) {
	if !p.route.Takes(m) {
		return false, nil
	}
	if p.route.After == 0 {
		return true, nil
	}
	a, has, err := p.keeper.Alarm(ctx, m.Alarm)
	if err != nil {
		return false, err
	}
	return has && a.State == alert.Active && !a.Since.After(m.At), nil
}

func (p *post) send(ctx context.Context, m alert.Message) (alert.Outcome, error) {
	limited, cancel := context.WithTimeout(ctx, p.Limit)
	defer cancel()
	err := p.route.Sender.Send(limited, m.Dated(p.now()))
	o := alert.Outcome{Sender: p.route.Name, Result: alert.Delivered, At: p.now()}
	switch {
	case errors.Is(err, alert.ErrPermanent):
		o.Result, o.Err = alert.Refused, err.Error()
	case err != nil:
		o.Result, o.Err = alert.Retry, err.Error()
		o.Next = o.At.Add(alert.Wait(m.Attempts + 1))
	}
	return o, err
}
