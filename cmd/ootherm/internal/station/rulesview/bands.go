package rulesview

import (
	"time"

	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/thermal/track"
)

// bands are a zone's own bands in force: wanted, safe and of humidity.
type bands [3]*plan.Band

// activeBands are a zone's own bands in force at a local time.
func activeBands(z plan.Zone, local time.Time) bands {
	return bands{z.Wanted.At(local), z.Safe.At(local), z.Humidity.At(local)}
}

// BandsChanged reports whether other bands are in force since the last call, by the hour or
// the season. An alarm that stands is then judged by the band in force, and one that begins
// still has its on-delay.
func (r *Rules) BandsChanged(now time.Time) bool {
	changed := false
	for i, z := range r.o.Plan.Zones {
		active := activeBands(z, r.o.Plan.Local(now))
		changed = changed || active != r.active[i]
		r.active[i] = active
	}
	return changed
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

func bandForRules(b *plan.Band) *rules.Band {
	if b == nil {
		return nil
	}
	return &rules.Band{Low: b.Low, High: b.High, Deadband: b.Deadband, OnDelay: b.OnDelay, OffDelay: b.OffDelay}
}

func exposureLimit(d *plan.Dose) *rules.ExposureLimit {
	if d == nil {
		return nil
	}
	return &rules.ExposureLimit{Low: d.Low, High: d.High, For: d.For}
}
