package pastreadings

import (
	"errors"
	"maps"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/sensor/history"
)

// logReadErrorAgain is how long an error of the history that lasts is not logged again
// (our choice).
const logReadErrorAgain = time.Hour

// damagedBlock names a block of readings that cannot be read.
type damagedBlock struct {
	probe string
	from  int64 // Unix milliseconds
}

// readErrors are the errors of reads of the history.
type readErrors struct {
	damaged map[damagedBlock]*history.Damage // since the start
	logged  map[string]time.Time             // other errors, by when they were last logged
}

func newReadErrors() readErrors {
	return readErrors{damaged: map[damagedBlock]*history.Damage{}, logged: map[string]time.Time{}}
}

// isDamage reports whether reading again gives the same error.
func isDamage(err error) bool {
	var d *history.Damage
	return errors.As(err, &d)
}

// withoutDamage is nil for an error of damaged blocks alone: they are gaps.
func withoutDamage(err error) error {
	return errors.Join(slices.DeleteFunc(rebuild.Errors(err), isDamage)...)
}

// Report logs an error of a read of the history: a damaged block once, another error once
// an hour.
func (p *Past) Report(err error) {
	var d *history.Damage
	if errors.As(err, &d) {
		at := damagedBlock{d.Probe, d.From.UnixMilli()}
		if p.errors.damaged[at] != nil {
			return
		}
		p.errors.damaged[at] = d
	} else {
		now := p.o.Now()
		if last, ok := p.errors.logged[err.Error()]; ok && now.Sub(last).Abs() < logReadErrorAgain {
			return
		}
		p.errors.logged[err.Error()] = now
	}
	if p.o.Log != nil {
		p.o.Log(err)
	}
}

// Unreadable reports whether stored readings cannot be read.
func (p *Past) Unreadable() bool { return len(p.errors.damaged) > 0 || p.Rebuilds.Failing() != nil }

// Damages are the spans that are damaged, the newest first.
func (p *Past) Damages() []*history.Damage {
	return slices.SortedFunc(maps.Values(p.errors.damaged), func(a, b *history.Damage) int { return b.From.Compare(a.From) })
}
