package daemon

import (
	"context"
	"errors"
	"log/slog"
	"net"

	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/listener"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/station"
)

// Visit opens a station for one command while no daemon runs on its files. The station
// answers requests on the connections that dial makes. It raises no alarm and sends
// nothing. The function closing ends it.
func Visit(ctx context.Context, c config.Config, plan plan.Plan, build Build) (dial func(context.Context) (net.Conn, error), closing func() error, err error) {
	m, err := clock.System()
	if err != nil {
		return nil, nil, err
	}
	d, err := Prepare(c, plan, build, m, slog.New(slog.DiscardHandler))
	if err != nil {
		return nil, nil, err
	}
	d.lamps = &senders.Lamps{}
	// Without a worker, the command waits for what a daemon computes in the background.
	s, err := d.openWith(ctx, func(o *station.Options) { o.Worker, o.Visit = nil, true })
	if err != nil {
		return nil, nil, err
	}
	d.loop.station.Store(s) // the loop does not run yet, so the first call finds the station
	stepping, cancel := context.WithCancel(context.WithoutCancel(ctx))
	ended := make(chan error, 1)
	go func() { ended <- d.loop.run(stepping) }()
	pipe := newPipeListener()
	stop := listener.Serve(stepping, d.handler, func(error) {}, pipe)
	return pipe.dial, func() error {
		stop()
		cancel()
		return errors.Join(<-ended, d.close())
	}, nil
}
