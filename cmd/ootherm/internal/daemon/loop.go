package daemon

import (
	"context"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor"
)

// loop is the one goroutine that calls a station. Everybody else asks through
// it. Until the station is there, readings wait in memory.
type loop struct {
	station atomic.Pointer[station.Station] // nil until it is ready
	ready   chan *station.Station
	batches chan []sensor.Reading
	waiting []sensor.Reading
	asks    chan ask
	applies chan func()
	clock   func() time.Time       // the time as the station dates it
	every   time.Duration          // between two ticks
	failed  func(error)            // told of what a step could not do
	after   func(*station.Station) // after each step
	stopped chan struct{}
	working sync.Mutex // one job at a time: each may hold much of the history
}

type ask struct {
	do   func(context.Context, *station.Station) error
	done chan error
}

// Why nothing can be asked of a station just now.
var (
	errStopped  = usererr.New("the station is stopping; nothing was changed")
	errStarting = usererr.New("the station is still opening its files; nothing was changed; try again in a minute")
)

func newLoop(every time.Duration, clock func() time.Time, failed func(error), after func(*station.Station)) *loop {
	return &loop{
		ready:   make(chan *station.Station, 1),
		batches: make(chan []sensor.Reading, 64),
		asks:    make(chan ask),
		applies: make(chan func()),
		stopped: make(chan struct{}),
		clock:   clock, every: every, failed: failed, after: after,
	}
}

// run steps the station until the context ends, then makes durable what it holds.
func (l *loop) run(ctx context.Context) error {
	defer close(l.stopped)
	tick := time.NewTicker(l.every)
	defer tick.Stop()
	var applies chan func() // nil until the station is handed over: what it rebuilds is still being made
	for {
		var err error
		select {
		case <-ctx.Done():
			return l.end()
		case s := <-l.ready:
			l.station.Store(s)
			applies = l.applies
			err = l.observe(ctx, nil)
		case batch := <-l.batches:
			err = l.observe(ctx, batch)
		case a := <-l.asks:
			if s := l.station.Load(); s != nil {
				a.done <- a.do(ctx, s)
			} else {
				a.done <- errStarting
			}
		case apply := <-applies:
			apply()
			err = l.tick(ctx)
		case <-tick.C:
			err = l.tick(ctx)
		}
		if err != nil && ctx.Err() == nil {
			l.failed(err)
		}
		if s := l.station.Load(); s != nil {
			l.after(s)
		}
	}
}

// most is how many readings wait for a station that is not there yet: an hour of
// a dozen probes, every ten seconds.
const most = 5000

func (l *loop) observe(ctx context.Context, batch []sensor.Reading) error {
	s := l.station.Load()
	l.waiting = append(l.waiting, batch...)
	if s == nil {
		if len(l.waiting) > most {
			l.waiting = l.waiting[len(l.waiting)-most:]
		}
		return nil
	}
	batch, l.waiting = l.waiting, nil
	for i := range batch {
		batch[i].Boot = s.Boot().Number // learned from the file, so not known to the poller
	}
	return s.Observe(ctx, batch)
}

func (l *loop) tick(ctx context.Context) error {
	if s := l.station.Load(); s != nil {
		return s.Tick(ctx, l.clock())
	}
	return nil
}

// end takes the readings that are still on their way and makes all durable.
func (l *loop) end() error {
	s := l.station.Load()
	if s == nil {
		select {
		case s = <-l.ready:
			l.station.Store(s)
		default:
			return nil
		}
	}
	ctx := context.Background()
	for {
		select {
		case batch := <-l.batches:
			if err := l.observe(ctx, batch); err != nil {
				l.failed(err)
			}
			continue
		default:
		}
		return s.Stop(ctx)
	}
}

// do has the station do something between two steps.
func (l *loop) do(ctx context.Context, f func(context.Context, *station.Station) error) error {
	a := ask{do: f, done: make(chan error, 1)}
	select {
	case l.asks <- a:
	case <-ctx.Done():
		return fmt.Errorf("the station is busy; nothing was changed: %w", ctx.Err())
	case <-l.stopped:
		return errStopped
	}
	return <-a.done
}

// work runs a job beside the station.
func (l *loop) work(job func() (apply func())) {
	go func() {
		l.working.Lock()
		defer l.working.Unlock()
		apply := job()
		select {
		case l.applies <- apply:
		case <-l.stopped:
		}
	}()
}
