package outbox

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/digest"
	"example.com/ootherm/alert/ratelimit"
)

// SendLimit is how long one attempt may take, unless a [Courier] is told
// otherwise.
const SendLimit = time.Minute

// maxSleep is how long a courier sleeps at most before it looks again, so that a
// stepped clock or a missed call costs no more than that.
const maxSleep = time.Minute

// maxRefusals limits the tries of a critical message that its receiver refuses for good. A
// gateway that restarts can answer 404 for a while. The tries take three hours (our choice).
const maxRefusals = 10

// Route is one configured sender. With After it gets only critical alarms that are still
// active after that time: not acknowledged, hidden or over.
type Route struct {
	Name      string // as in the configuration; messages carry it
	Sender    alert.Sender
	After     time.Duration
	RateLimit ratelimit.Limit
}

// Takes reports whether a message is for this route at all.
func (r Route) Takes(m alert.Message) bool {
	return r.After == 0 || m.Priority == alert.Critical && !m.Over
}

// Attempt is one try to deliver a message, and what became of it. Messages that
// went together in a digest have one each.
type Attempt struct {
	Sender  string
	Message alert.Message // without an ID when the store could not be read
	Outcome alert.Outcome
	Err     error // why it was not delivered, or what the store failed at
}

// Courier delivers the messages that wait in a store. Each sender has a goroutine, so a slow
// one does not delay the others.
type Courier struct {
	keeper Keeper
	now    func() time.Time
	report func(Attempt)
	wake   []chan struct{}
	work   []*worker // of the routes

	Limit time.Duration // of one attempt
}

// NewCourier serves the routes by the clock that dates the messages. Report is
// called after each attempt, from several goroutines.
func NewCourier(k Keeper, routes []Route, now func() time.Time, report func(Attempt)) *Courier {
	c := &Courier{keeper: k, now: now, report: report, Limit: SendLimit}
	for _, r := range routes {
		c.wake = append(c.wake, make(chan struct{}, 1))
		c.work = append(c.work, &worker{Courier: c, route: r, noted: map[string]alert.Outcome{}, held: map[string]waitState{}})
	}
	return c
}

// Wake makes the courier look for messages at once. Call it after a commit. It never blocks.
func (c *Courier) Wake() {
	for _, w := range c.wake {
		select {
		case w <- struct{}{}:
		default: // it has been told already
		}
	}
}

// Run delivers until the context ends. It returns after the last attempt has ended.
func (c *Courier) Run(ctx context.Context) {
	var wg sync.WaitGroup
	for i, p := range c.work {
		wg.Go(func() { p.run(ctx, c.wake[i]) })
	}
	wg.Wait()
}

// Round sends everything that may be sent now, one route after another. It returns the time
// until the next round. A replay calls it instead of [Courier.Run].
func (c *Courier) Round(ctx context.Context) (time.Duration, error) {
	sleep := maxSleep
	for _, p := range c.work {
		wait, err := p.round(ctx)
		if err != nil {
			return 0, err
		}
		sleep = min(sleep, wait)
	}
	return sleep, nil
}

// worker is the courier's work for one route.
type worker struct {
	*Courier
	route  Route
	noted  map[string]alert.Outcome // outcomes that the store failed to keep
	faults int                      // of the store, in a row
	back   bool                     // the last attempt was delivered
	most   int                      // messages in a digest; 0: no limit. A larger digest was refused
	held   map[string]waitState     // of the messages that wait
}

func (p *worker) run(ctx context.Context, wake <-chan struct{}) {
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
		wait, err := p.round(ctx)
		p.faults++
		if err == nil {
			p.faults = 0
		} else {
			wait = alert.Wait(p.faults)
		}
		timer.Reset(wait)
	}
}

// round sends everything that may be sent and says how long to sleep. Its error
// is the store's.
func (p *worker) round(ctx context.Context) (time.Duration, error) {
	for ctx.Err() == nil {
		due, wait, err := p.due(ctx)
		if err != nil {
			return 0, err
		}
		var sent []time.Time
		if len(due) > 0 {
			if sent, err = p.keeper.Sent(ctx, p.route.Name); err != nil {
				return 0, p.fault(ctx, alert.Message{}, err)
			}
		}
		batch, pause := p.route.RateLimit.Next(p.now(), due, sent)
		if len(due) == 0 {
			p.most = 0
		}
		if len(batch) == 0 {
			if pause > 0 {
				wait = min(wait, pause)
			}
			return wait, nil
		}
		if p.most > 0 {
			batch = batch[:min(len(batch), p.most)]
		}
		if err := p.deliver(ctx, batch); err != nil {
			return 0, err
		}
	}
	return maxSleep, nil
}

// waitState holds the times of a waiting message by the monotonic clock. The station's own
// clock may be wrong until the network is there.
type waitState struct {
	seen  time.Time     // first
	age   time.Duration // then
	retry time.Time     // when it may be tried again; zero: not tried in this run
}

// track updates the times of the waiting messages. The age of a new message follows from its
// own time.
func (p *worker) track(waiting []alert.Message, now time.Time) {
	held := map[string]waitState{}
	for _, m := range waiting {
		h, known := p.held[m.ID]
		if !known {
			h = waitState{seen: time.Now(), age: max(0, now.Sub(m.At))}
		}
		held[m.ID] = h
	}
	p.held = held
}

// left returns how long a message still waits for the route's delay and for its next try.
func (p *worker) left(m alert.Message, now time.Time) (delay, retry time.Duration) {
	h := p.held[m.ID]
	delay = p.route.After - h.age - time.Since(h.seen)
	if retry = m.Next.Sub(now); retry > alert.MaxRetryWait { // of a clock that was ahead
		retry = 0
	}
	if !h.retry.IsZero() {
		retry = min(retry, time.Until(h.retry))
	}
	return max(0, delay), max(0, retry)
}

// due gives the messages that may be sent now, and how long until the next may be. It also
// stores the outcomes that a failing store has not stored, and drops messages that are no
// longer wanted.
func (p *worker) due(ctx context.Context) ([]alert.Message, time.Duration, error) {
	waiting, err := p.keeper.Waiting(ctx)
	if err != nil {
		return nil, 0, p.fault(ctx, alert.Message{}, err)
	}
	waiting = slices.DeleteFunc(waiting, func(m alert.Message) bool { return m.Sender != p.route.Name || m.Refused })
	var due []alert.Message
	wait, now := maxSleep, p.now()
	p.track(waiting, now)
	// Messages that an outage delayed are sent together, once one of them is due or another
	// message was delivered. Where a digest was refused, its parts go each at its own times: one
	// that has just failed must not go with the next again and again.
	whole := p.most == 0
	together := p.back || whole && slices.ContainsFunc(waiting, func(m alert.Message) bool {
		_, retry := p.left(m, now)
		return m.Stuck(now) && retry == 0 && p.allowed(m, now)
	})
	p.back = false
	tried := p.triedEpisodes(waiting, now)
	for _, m := range waiting {
		o, happened := p.noted[m.ID]
		if happened {
			if err := p.note(ctx, m, o, nil); err != nil {
				return nil, 0, err
			}
			continue
		}
		left, retry := p.left(m, now)
		if goes := together && m.Stuck(now) || whole && m.Attempts > 0 && tried[m.Episode()]; !goes {
			left = max(left, retry)
		}
		if left > 0 {
			wait = min(wait, left)
			continue
		}
		wanted, err := p.wanted(ctx, m)
		if err != nil {
			return nil, 0, p.fault(ctx, m, err)
		}
		if wanted {
			due = append(due, m)
			continue
		}
		if err := p.note(ctx, m, alert.Outcome{Sender: p.route.Name, Result: alert.Dropped, At: now}, nil); err != nil {
			return nil, 0, err
		}
	}
	return due, wait, nil
}

// allowed reports whether the hours of the route let a message out. One that waits for the
// morning must not have others tried again and again all night.
func (p *worker) allowed(m alert.Message, now time.Time) bool {
	batch, _ := p.route.RateLimit.Next(now, []alert.Message{m}, nil)
	return len(batch) > 0
}

// triedEpisodes gives the episodes with a failed message whose next try is due. The other
// messages of these episodes are sent with it, where they are of a zone.
func (p *worker) triedEpisodes(waiting []alert.Message, now time.Time) map[string]bool {
	tried := map[string]bool{}
	for _, m := range waiting {
		if delay, retry := p.left(m, now); m.Attempts > 0 && delay == 0 && retry == 0 && m.OfZone() {
			tried[m.Episode()] = true
		}
	}
	return tried
}

// fault reports an error of the store, unless the courier is stopping.
func (p *worker) fault(ctx context.Context, m alert.Message, err error) error {
	if ctx.Err() == nil {
		p.report(Attempt{Sender: p.route.Name, Message: m, Err: err})
	}
	return err
}

// deliver makes one attempt. It stores the outcome for each message of the batch.
func (p *worker) deliver(ctx context.Context, batch []alert.Message) error {
	if where := p.route.RateLimit.Where; where != nil { // the recipient reads times in that place
		batch = slices.Clone(batch)
		for i := range batch {
			batch[i].At = batch[i].At.In(where)
		}
	}
	m, attempts := batch[0], batch[0].Attempts
	for _, part := range batch {
		attempts = min(attempts, part.Attempts) // the newest message is the most urgent
	}
	if len(batch) > 1 {
		m = digest.Of(batch)
	}
	o, failure := p.send(ctx, m, attempts)
	if failure != nil && ctx.Err() != nil {
		return nil // stopped in the middle: it waits for the next start
	}
	p.back = o.Result == alert.Delivered
	switch {
	case o.Result == alert.Refused && len(batch) > 1: // because of its size or of one part: the others must still be sent
		p.most = len(batch) / 2
		o.Result, o.Next = alert.Retry, o.At
	case o.Result != alert.Retry && len(batch) == p.most:
		p.most *= 2
	}
	if o.Result == alert.Refused && m.Priority == alert.Critical && attempts+1 < maxRefusals {
		o.Result, o.Next = alert.Retry, o.At.Add(alert.Wait(attempts+1))
	}
	var err error
	for _, part := range batch {
		if h, ok := p.held[part.ID]; ok && o.Result == alert.Retry {
			h.retry = time.Now().Add(o.Next.Sub(o.At))
			p.held[part.ID] = h
		}
		err = errors.Join(err, p.note(ctx, part, o, failure))
	}
	return err
}

// note stores an outcome and reports it, also while the station stops.
func (p *worker) note(ctx context.Context, m alert.Message, o alert.Outcome, failure error) error {
	err := p.keeper.Done(context.WithoutCancel(ctx), m.ID, o)
	if errors.Is(err, ErrNotWaiting) { // a person dropped it meanwhile
		err = nil
	}
	if err != nil {
		p.noted[m.ID] = o
	} else {
		delete(p.noted, m.ID)
	}
	p.report(Attempt{Sender: p.route.Name, Message: m, Outcome: o, Err: errors.Join(failure, err)})
	return err
}

// wanted reports whether a message is still worth sending on this route.
func (p *worker) wanted(ctx context.Context, m alert.Message) (bool, error) {
	if !p.route.Takes(m) || !m.Until.IsZero() && p.now().After(m.Until) {
		return false, nil
	}
	if p.route.After == 0 {
		return true, nil
	}
	a, has, err := p.keeper.Alarm(ctx, m.Alarm)
	if err != nil {
		return false, err
	}
	_, sequence, err := split(m.ID)
	return has && a.State == alert.Active && sequence >= a.First, err
}

func (p *worker) send(ctx context.Context, m alert.Message, attempts int) (alert.Outcome, error) {
	limited, cancel := context.WithTimeout(ctx, p.Limit)
	defer cancel()
	err := p.route.Sender.Send(limited, m.Dated(p.now()))
	o := alert.Outcome{Sender: p.route.Name, Result: alert.Delivered, At: p.now()}
	switch {
	case errors.Is(err, alert.ErrPermanent):
		o.Result, o.Err = alert.Refused, err.Error()
	case err != nil:
		o.Result, o.Err = alert.Retry, err.Error()
		o.Next = o.At.Add(max(alert.Wait(attempts+1), alert.Asked(err)))
	}
	return o, err
}
