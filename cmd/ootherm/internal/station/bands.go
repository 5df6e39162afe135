package station

import (
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// local is the time on the zone's own clock, by which bands change.
func (s *Station) local() time.Time { return s.plan.Local(s.now) }

// wanted and humid are a zone's bands in force; see safe.
func (s *Station) wanted(z plan.Zone) *plan.Band { return z.Wanted.At(s.local()) }
func (s *Station) humid(z plan.Zone) *plan.Band  { return z.Humidity.At(s.local()) }

// updateActiveBands gives the alarms their new limits when a zone's bands change with the hour
// or the season. An alarm that stands is then judged by the band in force, and one
// that begins still has its on-delay.
func (s *Station) updateActiveBands() {
	changed := false
	for _, z := range s.zones {
		p, at := z.plan, s.local()
		force := [...]*plan.Band{p.Wanted.At(at), p.Safe.At(at), p.Humidity.At(at)}
		changed = changed || force != z.force
		z.force = force
	}
	if changed {
		s.limits(whyTurn)
	}
}
