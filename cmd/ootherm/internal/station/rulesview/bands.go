package rulesview

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/thermal/track"
)

// bandTurn is how long a band that another followed by the hour or the season is kept (our
// choice): a room follows its thermostat within an hour or two.
const bandTurn = 2 * time.Hour

// bands are a zone's own bands by the hour and the season: wanted, safe and of humidity.
type bands [3]*plan.Band

// scheduledBands are a zone's own bands at a local time.
func scheduledBands(z plan.Zone, local time.Time) bands {
	return bands{z.Wanted.At(local), z.Safe.At(local), z.Humidity.At(local)}
}

// turningBands are a zone's own bands. After a change by the hour or the season, what is inside
// the old band or on its way to the new one is in order, until the values are inside the new
// one, or for bandTurn: a room needs a while to follow.
type turningBands struct {
	scheduled bands
	before    bands        // the band that was in force, while it is kept; nil: it is not
	since     [3]time.Time // when the scheduled one came
	turn      rules.Turn   // of the wanted band
}

// newTurningBands are the bands at a time. A change that was shortly before is still under way.
func newTurningBands(z plan.Zone, p plan.Plan, now time.Time) *turningBands {
	t := &turningBands{scheduled: scheduledBands(z, p.Local(now))}
	for back := time.Minute; back < bandTurn; back += time.Minute {
		at := now.Add(-back)
		for i, b := range scheduledBands(z, p.Local(at)) {
			if b != t.scheduled[i] && t.before[i] == nil {
				t.before[i], t.since[i] = b, at.Add(time.Minute)
			}
		}
	}
	t.turn = turnOf(t.before[wantedBand], t.scheduled[wantedBand], t.since[wantedBand])
	return t
}

// step follows the schedule and what the probes of the zone measure, and reports whether
// another band is in force.
func (t *turningBands) step(scheduled bands, z *rules.Zone, now time.Time) (changed bool) {
	for i, b := range scheduled {
		switch {
		case b != t.scheduled[i]:
			if i == wantedBand {
				t.turn = turnOf(t.scheduled[i], b, now)
			}
			t.before[i], t.since[i] = t.inForce(i), now
			t.scheduled[i], changed = b, true
		case t.before[i] != nil && (now.Sub(t.since[i]) >= bandTurn || contains(b, z, i == humidityBand)):
			t.before[i], changed = nil, true
		}
	}
	return changed
}

// turnOf is the change from one band to another; zero where either is missing.
func turnOf(from, to *plan.Band, at time.Time) rules.Turn {
	if from == nil || to == nil {
		return rules.Turn{}
	}
	by := func(from, to *float64) float64 {
		if from == nil || to == nil {
			return 0
		}
		return *to - *from
	}
	return rules.Turn{At: at, LowKelvin: by(from.Low, to.Low), HighKelvin: by(from.High, to.High)}
}

// inForce is one of the bands as it is in force.
func (t *turningBands) inForce(i int) *plan.Band {
	to, from := t.scheduled[i], t.before[i]
	if from == nil || to == nil {
		return to
	}
	b := *to
	b.Spells = nil
	b.Low, b.High = furthest(to.Low, from.Low, math.Min), furthest(to.High, from.High, math.Max)
	return &b
}

// furthest is the end of both of two bands; nil where one has none.
func furthest(a, b *float64, of func(a, b float64) float64) *float64 {
	if a == nil || b == nil {
		return nil
	}
	x := of(*a, *b)
	return &x
}

// The bands of a zone by their places in bands.
const (
	wantedBand = iota
	safeOwnBand
	humidityBand
)

// contains reports whether every value of a zone is inside a band, and there is one.
func contains(b *plan.Band, z *rules.Zone, humidity bool) bool {
	values, band := z.Values(humidity), bandForRules(b)
	return len(values) > 0 && !slices.ContainsFunc(values, func(v float64) bool {
		return band.Has(false) && band.Limit(false, 0).Beyond(v) || band.Has(true) && band.Limit(true, 0).Beyond(v)
	})
}

// BandsChanged reports whether other bands are in force since the last call, by the hour or
// the season. An alarm that stands is then judged by the band in force, and one that begins
// still has its on-delay.
func (r *Rules) BandsChanged(now time.Time) bool {
	changed := false
	for i, z := range r.o.Plan.Zones {
		if r.bands[i].step(scheduledBands(z, r.o.Plan.Local(now)), &r.View.Zones[i], now) {
			changed = true
		}
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
