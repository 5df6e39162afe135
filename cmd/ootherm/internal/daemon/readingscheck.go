package daemon

import (
	"context"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/station"
)

const (
	// startExtension is by how much the service manager lets a start last longer, each time
	// that it is asked, and startExtensionEvery how often it is (our choice).
	startExtension      = "EXTEND_TIMEOUT_USEC=90000000"
	startExtensionEvery = 20 * time.Second
	// maxStart is the longest start: two checks and two of their repairs, each at its limit of
	// five minutes. A start that hangs then ends, and the next one checks the files.
	maxStart = 20 * time.Minute

	// readingsCheckDelay leaves a slow machine to its windows first (our choice).
	readingsCheckDelay = 5 * time.Minute
	// readingsCheckShare is the share of a core that the check takes at most (our choice).
	readingsCheckShare = 0.1
)

// openInTime opens the files and makes a station over them, and keeps the service manager from
// ending a start that takes long.
func (d *daemon) openInTime(ctx context.Context) (*station.Station, error) {
	ended := make(chan struct{})
	defer close(ended)
	go extendStart(ended, d.notify)
	return d.open(ctx)
}

// extendStart asks the service manager again and again to let the start last longer, until it
// has ended or has lasted too long.
func extendStart(ended <-chan struct{}, notify func(state string)) {
	again, limit := time.NewTicker(startExtensionEvery), time.NewTimer(maxStart)
	defer again.Stop()
	defer limit.Stop()
	for {
		select {
		case <-again.C:
			notify(startExtension)
		case <-limit.C:
			return
		case <-ended:
			return
		}
	}
}

// checkReadings reads the stored readings that no check has read, slowly, until the context
// ends. It reports damage to the station, for which it is a gap.
func (d *daemon) checkReadings(ctx context.Context) {
	pause := time.NewTimer(readingsCheckDelay)
	defer pause.Stop()
	select {
	case <-pause.C:
	case <-ctx.Done():
		return
	}
	began := time.Now()
	for err := range d.history.Check() {
		if err != nil {
			report := func(_ context.Context, s *station.Station) error { s.ReportUnreadable(err); return nil }
			if err := d.loop.do(ctx, report); err != nil {
				d.logFailure(err)
			}
		}
		pause.Reset(time.Duration(float64(time.Since(began)) * (1/readingsCheckShare - 1)))
		select {
		case <-pause.C:
		case <-ctx.Done():
			return
		}
		began = time.Now()
	}
}
