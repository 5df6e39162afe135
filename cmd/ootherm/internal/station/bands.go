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

// safe is the zone's safe band: its own, or the strictest of the profiles whose
// eggs wait there.
func (s *Station) safe(z plan.Zone) *plan.Band {
	var kinds []string
	for _, g := range s.groups() {
		if g.Waiting && g.Zone == z.Name {
			kinds = append(kinds, g.Profile)
		}
	}
	return s.plan.Safe(z, kinds).At(s.local())
}
