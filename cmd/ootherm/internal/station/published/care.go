package published

import (
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/thermal/book/husbandry"
)

// Medium publishes a box's water.
func Medium(c husbandry.BoxCare) *snapshot.Medium {
	b := c.Box
	m := &snapshot.Medium{Filling: snapshot.Filling{Medium: snapshot.OptText(b.Medium), Dry: b.DryG, Water: b.WaterG, Total: b.TotalG}}
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

// Dam publishes when a dam may lay next.
func Dam(c husbandry.DamCare) snapshot.Dam {
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
