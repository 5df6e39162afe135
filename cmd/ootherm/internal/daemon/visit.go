package daemon

import (
	"context"
	"errors"
	"log/slog"
	"net"

	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/station"
)

// Visit opens a station over the files of a configuration, for one command, while
// none runs. It answers requests on the connections that dial makes, raises no alarm
// and sends nothing. Close ends it.
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
	// The command waits for what a running station computes in the background.
	s, err := d.openAs(ctx, func(o *station.Options) { o.Worker, o.Visit = nil, true })
	if err != nil {
		return nil, nil, err
	}
	d.loop.station.Store(s) // before anything is asked of it; the loop does not run yet
	within, cancel := context.WithCancel(context.WithoutCancel(ctx))
	ended := make(chan error, 1)
	go func() { ended <- d.loop.run(within) }()
	p := newPipes()
	stop := Serve(within, d.handler, func(error) {}, p)
	return p.dial, func() error {
		stop()
		cancel()
		return errors.Join(<-ended, d.close())
	}, nil
}
