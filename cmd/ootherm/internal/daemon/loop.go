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

// loop owns the goroutine that calls a station. Every other goroutine sends its request
// through it. Readings wait in memory until the station is ready.
type loop struct {
	station atomic.Pointer[station.Station] // nil until it is ready
	ready   chan *station.Station
	batches chan []sensor.Reading
	waiting []sensor.Reading // in the loop's goroutine only
	calls   chan call
	results chan func()            // of background jobs; the loop applies them
	clock   func() time.Time       // the time as the station dates it
	every   time.Duration          // between two ticks
	onError func(error)            // receives the errors of steps
	after   func(*station.Station) // runs after each step
	stopped chan struct{}
	polled  chan struct{} // closed once the station has taken readings: background jobs begin then
	jobs    jobQueue
}

// call is a function that the loop runs between two steps.
type call struct {
	do   func(context.Context, *station.Station) error
	done chan error
}

// Errors of a call that the station cannot run now.
var (
	errStopped  = usererr.New("the station is stopping; nothing was changed")
	errStarting = usererr.New("the station is still opening its files; nothing was changed; try again in a minute")
)

func newLoop(every time.Duration, clock func() time.Time, onError func(error), after func(*station.Station)) *loop {
	return &loop{
		ready:   make(chan *station.Station, 1),
		batches: make(chan []sensor.Reading, 64),
		calls:   make(chan call),
		results: make(chan func()),
		stopped: make(chan struct{}),
		polled:  make(chan struct{}),
		clock:   clock, every: every, onError: onError, after: after,
	}
}

// run steps the station until the context ends. Then it makes all readings durable.
func (l *loop) run(ctx context.Context) error {
	defer close(l.stopped)
	tick := time.NewTicker(l.every)
	defer tick.Stop()
	var results chan func() // nil until the station is ready: a result may need the finished station
	for {
		var err error
		select {
		case <-ctx.Done():
			return l.shutdown()
		case s := <-l.ready:
			l.station.Store(s)
			results = l.results
			err = l.flushWaiting(ctx)
		case batch := <-l.batches:
			err = l.observe(ctx, batch)
		case c := <-l.calls:
			if s := l.station.Load(); s != nil {
				c.done <- c.do(ctx, s)
			} else {
				c.done <- errStarting
			}
		case apply := <-results:
			apply()
			err = l.tick(ctx)
		case <-tick.C:
			err = l.tick(ctx)
		}
		if err != nil && ctx.Err() == nil {
			l.onError(err)
		}
		if s := l.station.Load(); s != nil {
			l.after(s)
		}
	}
}

// maxQueuedReadings limits the readings that wait for the station to open its files. It
// covers an hour of a dozen probes that are read every ten seconds (our choice).
const maxQueuedReadings = 5000

// observe passes readings to the station. Before the station is ready, it queues them and
// drops the oldest past the limit.
func (l *loop) observe(ctx context.Context, batch []sensor.Reading) error {
	l.waiting = append(l.waiting, batch...)
	if l.station.Load() != nil {
		return l.flushWaiting(ctx)
	}
	if len(l.waiting) > maxQueuedReadings {
		l.waiting = l.waiting[len(l.waiting)-maxQueuedReadings:]
	}
	return nil
}

// flushWaiting passes the queued readings to the station, which must be ready.
func (l *loop) flushWaiting(ctx context.Context) error {
	s := l.station.Load()
	batch := l.waiting
	l.waiting = nil
	for i := range batch {
		batch[i].Boot = s.Boot().Number // the poller does not know it: the station reads it from its file
	}
	err := s.Observe(ctx, batch)
	select {
	case <-l.polled:
	default:
		if len(batch) > 0 {
			close(l.polled)
		}
	}
	return err
}

// tick tells the station the time, if the station is ready.
func (l *loop) tick(ctx context.Context) error {
	if s := l.station.Load(); s != nil {
		return s.Tick(ctx, l.clock())
	}
	return nil
}

// shutdown takes the readings that still wait in the channel and stops the station, which
// makes all readings durable.
func (l *loop) shutdown() error {
	ctx := context.Background()
	s := l.station.Load()
	if s == nil {
		select {
		case s = <-l.ready:
			l.station.Store(s)
		default:
			return nil
		}
		if err := l.flushWaiting(ctx); err != nil {
			l.onError(err)
		}
	}
	for {
		select {
		case batch := <-l.batches:
			if err := l.observe(ctx, batch); err != nil {
				l.onError(err)
			}
			continue
		default:
		}
		return s.Stop(ctx)
	}
}

// do runs f in the loop's goroutine, between two steps of the station, and returns its
// error. It returns errStarting or errStopped if the station is not there.
func (l *loop) do(ctx context.Context, f func(context.Context, *station.Station) error) error {
	c := call{do: f, done: make(chan error, 1)}
	select {
	case l.calls <- c:
	case <-ctx.Done():
		return fmt.Errorf("the station is busy; nothing was changed: %w", ctx.Err())
	case <-l.stopped:
		return errStopped
	}
	return <-c.done
}

// jobQueue holds the background jobs that wait, in their order. One runs at a time: each can
// hold much of the history in memory.
type jobQueue struct {
	mu      sync.Mutex
	waiting []func() (apply func())
	running bool
}

// runJob runs a job in the background, after the first readings: a slow machine then watches
// before it computes windows. The loop then calls the function that the job returned, between
// two steps.
func (l *loop) runJob(job func() (apply func())) {
	l.jobs.mu.Lock()
	defer l.jobs.mu.Unlock()
	l.jobs.waiting = append(l.jobs.waiting, job)
	if !l.jobs.running {
		l.jobs.running = true
		go l.runJobs()
	}
}

// runJobs runs the jobs that wait, until there is none or the loop stops.
func (l *loop) runJobs() {
	select {
	case <-l.polled:
	case <-l.stopped:
		return
	}
	defer collectMore()()
	for {
		l.jobs.mu.Lock()
		if len(l.jobs.waiting) == 0 {
			l.jobs.running = false
			l.jobs.mu.Unlock()
			return
		}
		job := l.jobs.waiting[0]
		l.jobs.waiting = l.jobs.waiting[1:]
		l.jobs.mu.Unlock()
		apply := job()
		select {
		case l.results <- apply:
		case <-l.stopped:
			return
		}
	}
}
