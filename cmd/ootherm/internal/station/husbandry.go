package station

import (
	"math"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/husbandry"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

// scaleErrorG is what a weighing may be wrong by (our choice): a kitchen scale that shows whole
// grams.
const scaleErrorG = 0.5

// careKept is how old the care may be: a day's date is no younger (our choice).
const careKept = time.Hour

// care is what the book says of the boxes' water and of the lay boxes.
type care struct {
	of     book.Book // as it was
	at     time.Time
	medium map[string]*snapshot.Medium // by box in use
	dams   []snapshot.Dam
}

// care is made again when the book changed, and once an hour.
func (s *Station) care() *care {
	if c := s.cared; c != nil && c.of == s.book && s.now.Sub(c.at).Abs() < careKept {
		return c
	}
	work := husbandry.CareOf(s.book, s.now, func(box string) husbandry.Scale { return scaleOf(s.plan, s.groups(), box) })
	c := &care{of: s.book, at: s.now, medium: map[string]*snapshot.Medium{}, dams: []snapshot.Dam{}}
	for _, b := range work.Boxes {
		c.medium[b.Box.ID] = publishedMedium(b)
	}
	for _, d := range work.Dams {
		c.dams = append(c.dams, publishedDam(d))
	}
	s.cared = c
	return c
}

// scaleOf is how heavy the eggs of a box may be, and how wrong a weighing.
func scaleOf(p plan.Plan, groups []*track.Group, box string) husbandry.Scale {
	scale := husbandry.Scale{EggG: math.Inf(1), ErrorG: scaleErrorG}
	for _, g := range groups {
		if g.Box != box {
			continue
		}
		kind, ok := p.Profile(g.Profile)
		if !ok || kind.EggG == (profile.Band{}) {
			return husbandry.Scale{ErrorG: scaleErrorG} // of one kind in it this is not known
		}
		scale.EggG, scale.EggMostG = min(scale.EggG, kind.EggG.Low), max(scale.EggMostG, kind.EggG.High)
	}
	if math.IsInf(scale.EggG, 1) {
		scale.EggG = 0
	}
	return scale
}

// publishedMedium is a box's water as it is published.
func publishedMedium(c husbandry.BoxCare) *snapshot.Medium {
	b := c.Box
	m := &snapshot.Medium{Medium: snapshot.OptText(b.Medium), Dry: b.DryG, Water: b.WaterG, Total: b.TotalG}
	if b.DryG != nil && b.WaterG != nil && *b.DryG > 0 {
		m.WantedRatio = snapshot.OptFloat(*b.WaterG / *b.DryG)
	}
	if n := len(b.Weighings); n > 0 {
		m.Weighed = &b.Weighings[n-1].At
	}
	if !c.NextWeighing.IsZero() {
		m.WeighNext = &c.NextWeighing
	}
	if c.Unknown != nil {
		why, ok := usererr.Message(c.Unknown)
		if !ok {
			why = c.Unknown.Error()
		}
		m.Unknown = snapshot.OptText(why)
		return m
	}
	w := c.Water
	m.Add, m.AddLow, m.AddHigh = snapshot.OptFloat(w.Add), snapshot.OptFloat(w.Low), snapshot.OptFloat(w.High)
	m.Ratio, m.PerDay, m.Warning = snapshot.OptFloat(w.Ratio), snapshot.OptFloat(w.PerDay), snapshot.OptText(w.Warning)
	if lost, ok := c.LostShare(); ok {
		m.Lost = snapshot.OptFloat(lost)
	}
	return m
}

// publishedDam is when a dam may lay next as it is published.
func publishedDam(c husbandry.DamCare) snapshot.Dam {
	d := snapshot.Dam{Dam: c.Dam.Name, Profile: snapshot.OptText(c.Dam.Profile), Due: string(c.Due)}
	if !c.LastLook.IsZero() {
		d.LastLook = &c.LastLook
	}
	if c.LastLaid != nil {
		d.LastLaid = &snapshot.Laid{Earliest: c.LastLaid.After, Latest: c.LastLaid.By}
	}
	l := c.Laying
	if l == nil {
		return d
	}
	if !l.Paired.IsZero() {
		d.LastPaired = &l.Paired
	}
	if l.Intervals > 0 {
		d.IntervalDays = snapshot.OptFloat(l.Interval.Hours() / 24)
	}
	d.Intervals, d.Because = l.Intervals, snapshot.OptText(l.Because)
	d.LookFrom, d.Earliest, d.Likely, d.Latest = &l.Look, &l.From, &l.Likely, &l.By
	return d
}
