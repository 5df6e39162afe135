package daemon

import (
	"context"
	"fmt"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/rehearsal"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station"
)

// rehearsalLasts is how long a rehearsal is shown before it is made again: an hour is little
// of its three weeks. One that failed is made again after a minute (our choice).
const rehearsalLasts, failedRehearsalLasts = time.Hour, time.Minute

// rehearsals makes the rehearsals of zones in the background, one at a time, and keeps each
// for a while.
type rehearsals struct {
	loop *loop
	now  func() time.Time

	turn  sync.Mutex // held while one is made: each takes all of a core
	mu    sync.Mutex
	zones map[string]*rehearsing
}

// rehearsing is a rehearsal that is being made, or was.
type rehearsing struct {
	limits string // that it is of
	begun  time.Time
	done   chan struct{} // closed once result and err are there
	result snapshot.Rehearsal
	err    error
}

func newRehearsals(l *loop, now func() time.Time) *rehearsals {
	return &rehearsals{loop: l, now: now, zones: map[string]*rehearsing{}}
}

// Rehearsal gives the rehearsal of a zone. Without wait it gives ready false while that is
// being made, and goes on making it.
func (r *rehearsals) Rehearsal(ctx context.Context, zone string, wait bool) (x snapshot.Rehearsal, ready bool, err error) {
	var q rehearsal.Query
	err = r.loop.do(ctx, func(_ context.Context, s *station.Station) (err error) {
		q, err = s.Retrospect().Rehearsal(zone)
		return err
	})
	if err != nil {
		return x, false, err
	}
	y := r.begin(q)
	if !wait {
		select {
		case <-y.done:
			return y.result, y.err == nil, y.err
		default:
			return x, false, nil
		}
	}
	select {
	case <-y.done:
		return y.result, y.err == nil, y.err
	case <-ctx.Done():
		return x, false, ctx.Err()
	case <-r.loop.stopped:
		return x, false, errStopped
	}
}

// begin gives the rehearsal of a query that is there or on its way, and begins one where
// there is none, or where it is old or of other limits.
func (r *rehearsals) begin(q rehearsal.Query) *rehearsing {
	r.mu.Lock()
	defer r.mu.Unlock()
	limits := fmt.Sprint(q.Limits, q.Probes)
	if x := r.zones[q.Zone]; x != nil && x.limits == limits {
		select {
		case <-x.done:
			lasts := rehearsalLasts
			if x.err != nil {
				lasts = failedRehearsalLasts
			}
			if r.now().Sub(x.begun).Abs() < lasts {
				return x
			}
		default:
			return x
		}
	}
	x := &rehearsing{limits: limits, begun: r.now(), done: make(chan struct{})}
	r.zones[q.Zone] = x
	go r.make(q, x)
	return x
}

// make makes a rehearsal. It ends early when the station stops.
func (r *rehearsals) make(q rehearsal.Query, x *rehearsing) {
	defer close(x.done)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	go func() {
		select {
		case <-r.loop.stopped:
			cancel()
		case <-ctx.Done():
		}
	}()
	r.turn.Lock()
	defer r.turn.Unlock()
	if x.result, x.err = q.Look(ctx); ctx.Err() != nil {
		x.err = errStopped
	}
}
