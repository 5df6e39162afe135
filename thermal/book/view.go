package book

import "time"

func (s *state) clutchView(c *clutchState) Clutch {
	v := Clutch{ID: c.it.Clutch, Dams: c.it.Dam, Profile: c.it.Profile, Found: c.it.At,
		Laid: Laid{After: c.it.LaidAfter, By: c.it.LaidBy}, Eggs: make([]Egg, len(c.eggs))}
	if v.Profile == "" {
		v.Profile = s.profileOf(v.Dams)
	}
	for i := range c.eggs {
		e := &c.eggs[i]
		x := Egg{ID: EggID(v.ID, i+1), Clutch: v.ID, Fate: e.fate, FateAt: e.fateAt,
			Verdict: e.verdict, VerdictAt: e.verdictAt, Stays: s.stays(e.stays), Box: e.box, Slot: e.slot}
		if e.end != nil {
			x.Why, x.HatchG = e.end.Why, e.end.MassG
		}
		for _, it := range e.growth {
			x.Hatchling = append(x.Hatchling, Event{At: it.At, What: it.What, MassG: it.MassG})
		}
		v.Eggs[i] = x
	}
	return v
}

// profileOf is the profile that all of the dams share, or none.
func (s *state) profileOf(dams []string) string {
	profile := ""
	for i, name := range dams {
		d, _ := s.dams.get(name)
		if i > 0 && d.profile != profile {
			return ""
		}
		profile = d.profile
	}
	return profile
}

// stays splits an egg's places where its box moved.
func (s *state) stays(places []place) []Stay {
	var all []Stay
	for _, p := range places {
		b, _ := s.boxes.get(p.box)
		for _, st := range b.stays {
			from, to := later(p.from, st.from), sooner(p.to, st.to)
			if to.IsZero() || from.Before(to) {
				all = append(all, Stay{Box: p.box, Slot: p.slot, Zone: st.zone, Probe: st.probe, Offset: st.offset, From: from, To: to})
			}
		}
	}
	return all
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// sooner is the first of two ends, of which a zero one is never.
func sooner(a, b time.Time) time.Time {
	if a.IsZero() || !b.IsZero() && b.Before(a) {
		return b
	}
	return a
}

func (b *boxState) view() Box {
	v := Box{ID: b.id, Zone: b.zone, Probe: b.probe, Offset: b.offset, InUse: b.emptied == nil, Done: b.done}
	for _, s := range b.stays {
		v.Stays = append(v.Stays, Stay{Box: b.id, Zone: s.zone, Probe: s.probe, Offset: s.offset, From: s.from, To: s.to})
	}
	for _, s := range b.in {
		v.Eggs = append(v.Eggs, s.egg)
	}
	if b.setup != nil {
		v.SetUp, v.Medium = b.setup.At, b.setup.Medium
		v.DryG, v.WaterG, v.TotalG = b.setup.DryG, b.setup.WaterG, b.setup.TotalG
	}
	for _, it := range b.weighings.all() {
		if it.Kind == KindWeighed {
			v.Weighings = append(v.Weighings, Weighing{At: it.At, TotalG: *it.TotalG})
		} else {
			v.Waterings = append(v.Waterings, Watering{At: it.At, WaterG: *it.WaterG})
		}
	}
	return v
}

func (d *damState) view() Female {
	v := Female{Name: d.name, Profile: d.profile, Clutches: d.clutch.all(), Looks: looks(d.looks)}
	for _, it := range d.pairs.all() {
		v.Pairings = append(v.Pairings, Pair{At: it.At, Sire: it.Sire})
	}
	for _, it := range d.rests.all() {
		v.Rested = append(v.Rested, it.At)
	}
	if d.retired != nil {
		v.Retired = d.retired.At
	}
	return v
}

func looks(l list[*item]) []Look {
	var all []Look
	for _, it := range l.all() {
		all = append(all, Look{At: it.At, Found: it.Found})
	}
	return all
}
