package check

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Send sends a test message by the running station, which sends the alarms too. Where none
// runs, this program sends it. It writes the result to w.
func Send(ctx context.Context, w io.Writer, path, name string, now func() time.Time) error {
	station, err := client.DialRunning(ctx, path)
	if err != nil {
		return err
	}
	if station == nil {
		return senders.SendTest(ctx, w, path, name, now)
	}
	began := now()
	err = station.SendTest(ctx, name)
	if err = errors.Join(err, station.Close()); err != nil {
		return fmt.Errorf("the running station, with the configuration of its start: %w", err)
	}
	_, err = fmt.Fprintf(w, "%s took the test message of the running station in %s. The station has the configuration of its start: after a change restart it first. %s\n",
		name, words.Span(now().Sub(began)), senders.SeeThatItArrived)
	return err
}
