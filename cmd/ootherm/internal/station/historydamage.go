package station

import (
	"errors"
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

// isDamage reports whether reading again gives the same error.
func isDamage(err error) bool {
	var d *history.Damage
	return errors.As(err, &d)
}

// withoutDamage is nil for an error of damaged blocks alone: they are gaps.
func withoutDamage(err error) error {
	return errors.Join(slices.DeleteFunc(rebuild.Errors(err), isDamage)...)
}

func newRebuilds(s *Station) rebuild.Runner {
	return rebuild.Runner{
		Worker: s.o.Worker, Now: func() time.Time { return s.now }, Final: isDamage, Report: s.reportRead,
	}
}

// reportRead logs an error of a read of the history: a damaged block once, another error
// once an hour.
func (s *Station) reportRead(err error) {
	var d *history.Damage
	if errors.As(err, &d) {
		at := damagedBlock{d.Probe, d.From.UnixMilli()}
		if s.readErrors.damaged[at] != nil {
			return
		}
		s.readErrors.damaged[at] = d
	} else {
		if last, ok := s.readErrors.logged[err.Error()]; ok && s.now.Sub(last).Abs() < logReadErrorAgain {
			return
		}
		s.readErrors.logged[err.Error()] = s.now
	}
	if s.o.Log != nil {
		s.o.Log(err)
	}
}
