package daemon

import (
	"context"
	"errors"
	"log/slog"
	"net"
	"net/http"

	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/listener"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/storage"
)

// Visit opens a station for one command while no daemon runs on its files. The station
// answers requests on the connections that dial makes. It raises no alarm and sends
// nothing. The function closing ends it.
func Visit(ctx context.Context, c config.Config, plan plan.Plan, build Build) (dial func(context.Context) (net.Conn, error), closing func() error, err error) {
	return visit(ctx, c, plan, build, storage.Options{})
}

// VisitBook is Visit for a command that reads or writes the book alone. It does not open the
// readings, whose check can take minutes after a power cut. It answers only for the book.
func VisitBook(ctx context.Context, c config.Config, plan plan.Plan, build Build) (dial func(context.Context) (net.Conn, error), closing func() error, err error) {
	return visit(ctx, c, plan, build, storage.Options{RecordsOnly: true})
}

func visit(ctx context.Context, c config.Config, plan plan.Plan, build Build, of storage.Options) (dial func(context.Context) (net.Conn, error), closing func() error, err error) {
	m, err := clock.System()
	if err != nil {
		return nil, nil, err
	}
	d, err := Prepare(c, plan, build, m, slog.New(slog.DiscardHandler))
	if err != nil {
		return nil, nil, err
	}
	d.lamps = &senders.Lamps{}
	// What a daemon computes in the background, a command waits for, if it asks for it.
	var deferred deferredJobs
	s, err := d.openWith(ctx, of, func(o *station.Options) { o.Worker, o.Visit = deferred.add, true })
	if err != nil {
		return nil, nil, err
	}
	d.loop.station.Store(s) // the loop does not run yet, so the first call finds the station
	stepping, cancel := context.WithCancel(context.WithoutCancel(ctx))
	ended := make(chan error, 1)
	go func() { ended <- d.loop.run(stepping) }()
	pipe := newPipeListener()
	stop := listener.Serve(stepping, deferred.before(d.handler, d.loop), func(error) {}, pipe)
	return pipe.dial, func() error {
		stop()
		cancel()
		return errors.Join(<-ended, d.close())
	}, nil
}

// deferredJobs are what a station computes in the background. They run when a request needs
// them: a command that adds to the book of a slow machine does not wait for minutes. The
// loop's goroutine uses it.
type deferredJobs struct{ waiting []func() (apply func()) }

func (j *deferredJobs) add(job func() (apply func())) { j.waiting = append(j.waiting, job) }

// run runs the jobs that wait, and those that they make.
func (j *deferredJobs) run(_ context.Context, s *station.Station) error {
	if len(j.waiting) == 0 {
		return nil
	}
	for len(j.waiting) > 0 {
		job := j.waiting[0]
		j.waiting = j.waiting[1:]
		job()()
	}
	s.Refresh()
	return nil
}

// beforeJobs are the paths whose answers come from the files alone.
var beforeJobs = map[string]bool{"/api/v1/book": true, "/api/v1/act": true, "/api/v1/backup": true, "/api/v1/readings": true}

// before runs the jobs before a handler answers what needs them.
func (j *deferredJobs) before(h http.Handler, l *loop) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !beforeJobs[r.URL.Path] {
			if err := l.do(r.Context(), j.run); err != nil {
				http.Error(w, err.Error(), http.StatusServiceUnavailable)
				return
			}
		}
		h.ServeHTTP(w, r)
	})
}
