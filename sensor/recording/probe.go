package recording

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"example.com/ootherm/sensor"
)

// Probe plays one probe of a recording back at the pace of a clock.
type Probe struct {
	r       *Reader
	name    string
	elapsed func() time.Duration

	first, at time.Time // of the recording, and of the row now played
	now       sensor.Measurement
	next      Row
	err       error // what the row after now failed with
	started   bool
}

var _ sensor.Probe = (*Probe)(nil)

// maxHold is how long a row is played for when the next is further away: the
// recording has a gap there, and so has the probe (our choice: some rooms are
// recorded hourly).
const maxHold = 2 * time.Hour

// Play is the named probe of a recording, whose first row is measured when
// elapsed is nothing. Between two rows it reads as at the earlier. It does not
// close the recording.
func Play(r *Reader, probe string, elapsed func() time.Duration) *Probe {
	return &Probe{r: r, name: probe, elapsed: elapsed, now: sensor.None()}
}

func (p *Probe) String() string { return fmt.Sprintf("recording %s of %s", p.name, p.r.file) }

// Measure reads the row for this time. A row that cannot be used is a bad frame,
// once; a gap, and the end, are no answer.
func (p *Probe) Measure(ctx context.Context) (sensor.Measurement, error) {
	none := sensor.None()
	if err := ctx.Err(); err != nil {
		return none, sensor.Fail(sensor.NoAnswer, "%s: not read: %w", p.name, err)
	}
	for !p.started && p.err == nil {
		row, err := p.read()
		var bad *RowError
		if errors.As(err, &bad) {
			continue // the recording begins with its first good row
		}
		p.next, p.err = row, err
		p.first, p.started = row.At, err == nil
	}
	to := p.first.Add(p.elapsed())
	for p.err == nil && !p.next.At.After(to) {
		p.at, p.now = p.next.At, p.next.Measurement
		p.next, p.err = p.read()
	}
	if p.err != nil {
		err := p.err
		var row *RowError
		if errors.As(err, &row) {
			p.next, p.err = p.read()
			return none, sensor.Fail(sensor.BadFrame, "%w", err)
		}
		if err != io.EOF {
			return none, sensor.Fail(sensor.NoAnswer, "%w", err)
		}
		if !p.started {
			return none, sensor.Fail(sensor.NoAnswer, "%s: it has no reading of a probe %q", p.r.file, p.name)
		}
		if to.Sub(p.at) > maxHold {
			return none, sensor.Fail(sensor.NoAnswer, "%s: the recording of %s ended at %s", p.r.file, p.name, p.at.Format(time.RFC3339))
		}
	}
	if to.Sub(p.at) > maxHold {
		return none, sensor.Fail(sensor.NoAnswer, "%s: nothing was recorded of %s between %s and %s", p.r.file, p.name, p.at.Format(time.RFC3339), p.next.At.Format(time.RFC3339))
	}
	return p.now, nil
}

// read is the next row of this probe, or of none that can be told.
func (p *Probe) read() (Row, error) {
	for {
		row, err := p.r.Next()
		var bad *RowError
		if errors.As(err, &bad) && bad.Probe != "" && bad.Probe != p.name {
			continue
		}
		if err != nil || row.Probe == p.name {
			return row, err
		}
	}
}
