package daemon

import (
	"context"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/station"
)

const (
	// startExtension is by how much the service manager lets a start last longer, each time
	// that it is asked, and startExtensionEvery how often it is (our choice). A check of a file
	// that hangs ends at its own limit.
	startExtension      = "EXTEND_TIMEOUT_USEC=90000000"
	startExtensionEvery = 20 * time.Second

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
	go func() {
		again := time.NewTicker(startExtensionEvery)
		defer again.Stop()
		for {
			select {
			case <-again.C:
				d.notify(startExtension)
			case <-ended:
				return
			}
		}
	}()
	return d.open(ctx)
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
