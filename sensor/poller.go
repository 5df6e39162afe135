package sensor

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"
)

// Bus is a set of probes that share a wire, and so are measured one after the
// other. Names are the probes' configured names, their identity.
//
// Open gives one new Probe for each of Names, in that order, and a function that
// closes them (nil where there is nothing to close). It is called again after
// the bus was lost or a transfer hung; then the earlier probes, and whatever
// they share, may still be in use by the hung transfer, so Open must not hand
// them out twice.
//
// KeepOpen leaves the bus open while none of its probes answers: it connects again by itself,
// and hears of a probe only while it is open.
type Bus struct {
	Name     string
	Names    []string
	Open     func(context.Context) ([]Probe, func() error, error)
	KeepOpen bool
}

// Batch is what one poll of one bus gave: a reading for each of its probes, a
// failed one with its cause and no values.
type Batch struct {
	Bus      string
	Readings []Reading
	Errs     []error // beside each reading, what its probe said; nil when it answered
	Err      error   // the bus as a whole is gone: it did not open, or not one of its probes answered
}

// Poller measures every probe of every bus, one goroutine a bus with nothing
// shared between them. The fields are set before Run and not changed after.
type Poller struct {
	Buses  []Bus
	Every  time.Duration        // between two polls of a bus
	Limit  time.Duration        // for one measurement, and for opening a bus; zero is a fifth of Every, from 1 s (the slowest part takes 750 ms) to 2 s
	Boot   uint32               // number of this boot, for the stamps
	Uptime func() time.Duration // time since boot (CLOCK_BOOTTIME)

	// Deliver takes each batch. It is called from the goroutine of the bus, so
	// from several at once, and holds up that bus alone for as long as it takes.
	Deliver func(context.Context, Batch)

	mu     sync.Mutex
	polled map[string]time.Duration
}

// maxRetry is the longest wait before a probe whose earlier transfers still hang
// is tried again (our choice: each try may leave a goroutine behind for good).
const maxRetry = time.Hour

// Run polls until the context ends, then closes the buses. It returns an error
// only for a Poller that is set up wrongly.
func (p *Poller) Run(ctx context.Context) error {
	if p.Every <= 0 || p.Uptime == nil || p.Deliver == nil {
		return errors.New("set Every, Uptime and Deliver")
	}
	seen := map[string]bool{}
	for _, b := range p.Buses {
		if b.Open == nil || b.Name == "" || seen[b.Name] {
			return fmt.Errorf("bus %q needs a name of its own and a way to open it", b.Name)
		}
		seen[b.Name] = true
	}
	began := p.Uptime()
	p.mu.Lock()
	p.polled = make(map[string]time.Duration, len(p.Buses))
	for _, b := range p.Buses {
		p.polled[b.Name] = began
	}
	p.mu.Unlock()

	var wg sync.WaitGroup
	for _, b := range p.Buses {
		l := &line{p: p, bus: b, hung: make([]hung, len(b.Names))}
		wg.Go(func() { l.run(ctx) })
	}
	wg.Wait()
	return nil
}

// Polled is when the last poll of each bus ended, as time since boot; a bus not
// polled yet has the time at which Run began.
func (p *Poller) Polled() map[string]time.Duration {
	p.mu.Lock()
	defer p.mu.Unlock()
	m := make(map[string]time.Duration, len(p.polled))
	for k, v := range p.polled {
		m[k] = v
	}
	return m
}

// Late names the buses whose last poll ended more than three polls ago.
func (p *Poller) Late() []string {
	now := p.Uptime()
	polled := p.Polled()
	var late []string
	for _, b := range p.Buses {
		if at, ok := polled[b.Name]; !ok || now-at > 3*p.Every {
			late = append(late, b.Name)
		}
	}
	return late
}

func (p *Poller) limit() time.Duration {
	if p.Limit > 0 {
		return p.Limit
	}
	return max(min(p.Every/5, 2*time.Second), time.Second)
}

// line is one bus as its goroutine sees it.
type line struct {
	p      *Poller
	bus    Bus
	probes []Probe // nil while the bus is closed
	close  func() error
	hung   []hung // by probe
	opened hung   // openings that hang
	failed error  // why the bus did not open in this poll; it is tried once
}

// hung is the transfers of one probe that were given up on and have not come
// back, and how many polls to wait before trying again.
type hung struct {
	left []<-chan struct{}
	wait int
}

// ready reports whether to try now. While earlier transfers hang, the waits
// double: a kernel that holds them would hold the next one too.
func (h *hung) ready() bool {
	live := h.left[:0]
	for _, c := range h.left {
		select {
		case <-c:
		default:
			live = append(live, c)
		}
	}
	back := len(live) < len(h.left)
	h.left = live
	if back || len(live) == 0 {
		h.wait = 0
	}
	if h.wait > 0 {
		h.wait--
		return false
	}
	return true
}

func (h *hung) add(c <-chan struct{}, most int) {
	h.left = append(h.left, c)
	h.wait = min(1<<min(len(h.left)-1, 20)-1, most)
}

func (l *line) run(ctx context.Context) {
	defer l.shut()
	start := time.Now()
	timer := time.NewTimer(0)
	defer timer.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-timer.C:
		}
		b := l.poll(ctx)
		if ctx.Err() != nil {
			return // cut short: what it says of the probes is not so
		}
		l.p.Deliver(ctx, b)
		l.p.mu.Lock()
		l.p.polled[l.bus.Name] = l.p.Uptime()
		l.p.mu.Unlock()
		// The next poll is on the grid of the first; polls missed are not made up.
		gone := time.Since(start)
		timer.Reset(gone.Truncate(l.p.Every) + l.p.Every - gone)
	}
}

// poll measures each probe once.
func (l *line) poll(ctx context.Context) Batch {
	b := Batch{Bus: l.bus.Name, Readings: make([]Reading, len(l.bus.Names)), Errs: make([]error, len(l.bus.Names))}
	silent := 0
	l.failed = nil
	for i, name := range l.bus.Names {
		m, err := l.measure(ctx, i)
		if err != nil {
			m = None() // a driver that breaks the rule must not pass a value on
		}
		b.Errs[i] = err
		b.Readings[i] = Reading{
			Probe:       name,
			Stamp:       Stamp{Boot: l.p.Boot, Uptime: l.p.Uptime()},
			Measurement: m,
			Cause:       CauseOf(err),
		}
		if c := CauseOf(err); c == NoAnswer || c == BusGone {
			silent++
		}
	}
	if silent > 0 && silent == len(l.bus.Names) {
		advice := "see that it is enabled and wired: "
		if l.bus.KeepOpen {
			advice = "" // the error of the probe has it
		}
		b.Err = fmt.Errorf("bus %s: none of its %d probes answers: %s%w", l.bus.Name, silent, advice, b.Errs[0])
		for i := range b.Readings {
			if silent > 1 {
				b.Readings[i].Cause = BusGone
			}
		}
		if !l.bus.KeepOpen {
			l.shut() // an adapter pulled out and back needs a new opening
		}
	}
	return b
}

func (l *line) measure(ctx context.Context, i int) (Measurement, error) {
	if !l.hung[i].ready() {
		return None(), Fail(NoAnswer, "%s: its last transfer still hangs: power the probe, or the station, off and on", l.bus.Names[i])
	}
	if l.probes == nil && l.failed == nil {
		l.failed = l.open(ctx)
	}
	if l.failed != nil {
		return None(), l.failed
	}
	probe := l.probes[i]
	m, left, err := callWithTimeout(ctx, l.p.limit(), probe.Measure, nil)
	if left != nil {
		l.hung[i].add(left, int(maxRetry/l.p.Every))
		l.shut()
		return None(), Fail(NoAnswer, "%s: no answer within %v: see its wiring: %w", l.bus.Names[i], l.p.limit(), context.DeadlineExceeded)
	}
	var behind interface{ Left() <-chan struct{} }
	if errors.As(err, &behind) {
		l.hung[i].add(behind.Left(), int(maxRetry/l.p.Every))
	}
	return m, err
}

// opening is what Bus.Open gave.
type opening struct {
	probes []Probe
	close  func() error
}

func (l *line) open(ctx context.Context) error {
	if !l.opened.ready() {
		return Fail(BusGone, "bus %s: its last opening still hangs: restart the station", l.bus.Name)
	}
	o, left, err := callWithTimeout(ctx, l.p.limit(), func(ctx context.Context) (opening, error) {
		probes, shut, err := l.bus.Open(ctx)
		return opening{probes, shut}, err
	}, func(o opening) {
		if o.close != nil {
			_ = o.close() // opened too late: the poll has given up
		}
	})
	switch {
	case left != nil:
		l.opened.add(left, int(maxRetry/l.p.Every))
		return Fail(BusGone, "bus %s: did not open within %v: see that it is enabled and wired", l.bus.Name, l.p.limit())
	case err != nil:
		return Fail(BusGone, "bus %s: open: %w", l.bus.Name, err)
	case len(o.probes) != len(l.bus.Names) || slices.Contains(o.probes, nil):
		if o.close != nil {
			_ = o.close() // the error returned is the one that matters
		}
		return Fail(BusGone, "bus %s: opened %d probes for %d names", l.bus.Name, len(o.probes), len(l.bus.Names))
	}
	l.probes, l.close = o.probes, o.close
	return nil
}

// shut closes the bus in a goroutine of its own, as a hung transfer may hold the
// lock that closing needs. Whether it closes well is of no use to anyone: the
// next opening tells.
func (l *line) shut() {
	if l.close != nil {
		shut := l.close
		go func() { _ = shut() }()
	}
	l.probes, l.close = nil, nil
}

// callWithTimeout calls f, which has until limit to answer, and a quarter of it more to
// notice that its context ended. A call that takes longer is abandoned: its
// goroutine stays behind, the channel returned is closed when it comes back
// after all, and its result goes to drop.
func callWithTimeout[T any](ctx context.Context, limit time.Duration, f func(context.Context) (T, error), drop func(T)) (v T, left <-chan struct{}, err error) {
	ctx, cancel := context.WithTimeout(ctx, limit)
	type result struct {
		v   T
		err error
	}
	answer := make(chan result)
	given := make(chan struct{}) // closed when the caller has given up
	back := make(chan struct{})
	go func() {
		defer close(back)
		defer cancel()
		v, err := f(ctx)
		select {
		case answer <- result{v, err}:
		case <-given:
			if drop != nil && err == nil {
				drop(v)
			}
		}
	}()
	timer := time.NewTimer(limit + limit/4)
	defer timer.Stop()
	select {
	case r := <-answer:
		return r.v, nil, r.err
	case <-timer.C:
		close(given)
		return v, back, context.DeadlineExceeded
	}
}
