package station

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor/history"
)

// maxNamedDamages is how many spans a message names.
const maxNamedDamages = 3

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

// damageDetail names the spans that cannot be read.
func (s *Station) damageDetail(now time.Time) []string {
	all := slices.SortedFunc(maps.Values(s.readErrors.damaged), func(a, b *history.Damage) int { return b.From.Compare(a.From) })
	var text []string
	for i, d := range all {
		if i == maxNamedDamages {
			text = append(text, fmt.Sprintf("%s more cannot be read.", words.Count(len(all)-i, "span", "spans")))
			break
		}
		text = append(text, fmt.Sprintf("Readings of %s cannot be read: %s.", d.Probe, s.reader().Between(d.From, d.To, now)))
	}
	if err := s.rebuilds.Failing(); err != nil {
		text = append(text, fmt.Sprintf("Earlier readings cannot be read just now: %v. The station tries again every ten minutes.", err))
	}
	return append(text, "They count as not measured. Alarms and windows go on.")
}
