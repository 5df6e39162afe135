package station

import (
	"time"

	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/thermal/track"
)

// local is the time on the zone's own clock, by which bands change.
func (s *Station) local() time.Time { return s.plan.Local(s.now) }

// updateActiveBands gives the alarms their new limits when a zone's bands change with the hour
// or the season. An alarm that stands is then judged by the band in force, and one
// that begins still has its on-delay.
func (s *Station) updateActiveBands() {
	changed := false
	for _, z := range s.zones {
		force := activeBands(z.plan, s.local())
		changed = changed || force != z.force
		z.force = force
	}
	if changed {
		s.limits(notice.GoneByHour)
	}
}

// activeBands are a zone's own bands in force at a local time: wanted, safe and of humidity.
func activeBands(z plan.Zone, local time.Time) [3]*plan.Band {
	return [...]*plan.Band{z.Wanted.At(local), z.Safe.At(local), z.Humidity.At(local)}
}

// safeBand is a zone's safe band in force at a local time: its own, or the strictest of the
// profiles whose eggs wait there.
func safeBand(p plan.Plan, z plan.Zone, groups []*track.Group, local time.Time) *plan.Band {
	var kinds []string
	for _, g := range groups {
		if g.Waiting && g.Zone == z.Name {
			kinds = append(kinds, g.Profile)
		}
	}
	return p.Safe(z, kinds).At(local)
}
