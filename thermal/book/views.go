package book

import (
	"cmp"
	"slices"
	"time"
)

// views answer the queries of a whole book.
type views struct {
	dams     []Dam
	clutches []Clutch // in the order laid
	boxes    []Box

	// Their places, by name.
	damAt, clutchAt, boxAt map[string]int
}

func (s *state) views() *views {
	v := &views{damAt: map[string]int{}, clutchAt: map[string]int{}, boxAt: map[string]int{}}
	for _, c := range s.clutchOrder {
		v.clutches = append(v.clutches, s.clutchView(c))
	}
	slices.SortStableFunc(v.clutches, func(a, b Clutch) int { return a.Laid.By.Compare(b.Laid.By) })
	for i := range v.clutches {
		v.clutchAt[v.clutches[i].ID] = i
	}
	for i, d := range s.damOrder {
		x := d.view()
		slices.SortStableFunc(x.Clutches, func(a, b string) int { return cmp.Compare(v.clutchAt[a], v.clutchAt[b]) })
		v.dams, v.damAt[d.it.Dam[0]] = append(v.dams, x), i
	}
	for name := range s.otherNames {
		if d := s.dams[s.entered(name)]; d != nil {
			v.damAt[name] = v.damAt[d.it.Dam[0]]
		}
	}
	for i, b := range s.boxOrder {
		v.boxes, v.boxAt[b.id] = append(v.boxes, b.view()), i
	}
	return v
}

func (s *state) clutchView(c *clutchState) Clutch {
	v := Clutch{ID: c.it.Clutch, Profile: c.profile, Found: c.it.At,
		Laid: Laid{After: c.it.LaidAfter, By: c.it.LaidBy}, Eggs: make([]Egg, len(c.eggs))}
	for _, d := range c.dams {
		v.Dams = append(v.Dams, d.name())
	}
	if v.Profile == "" {
		v.Profile = profileOf(c.dams)
	}
	for i := range c.eggs {
		e := &c.eggs[i]
		x := Egg{ID: EggID(v.ID, i+1), Clutch: v.ID, Fate: e.fate, FateAt: e.fateAt,
			Stays: s.stays(e.stays), Box: e.box, Slot: e.slot}
		if e.candled != nil {
			x.Verdict, x.VerdictAt = e.candled.Verdict, e.candled.At
		}
		if e.end != nil {
			x.Why, x.HatchG = e.end.Why, e.end.MassG
		}
		for _, it := range e.hatchling {
			x.Hatchling = append(x.Hatchling, Event{At: it.At, What: it.What, MassG: it.MassG})
		}
		v.Eggs[i] = x
	}
	return v
}

// profileOf is the profile that all of the dams share, or empty.
func profileOf(dams []*damState) string {
	profile := ""
	for i, d := range dams {
		if i > 0 && d.profile != profile {
			return ""
		}
		profile = d.profile
	}
	return profile
}

// stays splits an egg's stays where its box moved.
func (s *state) stays(slots []slotStay) []Stay {
	var all []Stay
	for _, p := range slots {
		for _, st := range s.boxes[p.box].stands {
			from, to := later(p.from, st.from), earlierEnd(p.to, st.to)
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

// earlierEnd is the first of two ends; a zero end is never.
func earlierEnd(a, b time.Time) time.Time {
	if a.IsZero() || !b.IsZero() && b.Before(a) {
		return b
	}
	return a
}

func (b *boxState) view() Box {
	v := Box{ID: b.id, Zone: b.stand.zone, Probe: b.stand.probe, Offset: b.stand.offset, InUse: b.emptied == nil,
		Eggs: b.eggs(), Done: b.done, Transfers: b.transfers}
	for _, s := range b.stands {
		v.Stays = append(v.Stays, Stay{Box: b.id, Zone: s.zone, Probe: s.probe, Offset: s.offset, From: s.from, To: s.to})
	}
	if b.setup != nil {
		v.Filling = Filling{b.setup.At, b.setup.Medium, b.setup.DryG, b.setup.WaterG, b.setup.TotalG}
	}
	for _, it := range b.weighings {
		if it.Kind == KindWeighed {
			v.Weighings = append(v.Weighings, Weighing{At: it.At, TotalG: *it.TotalG})
		} else {
			v.Waterings = append(v.Waterings, Watering{At: it.At, WaterG: *it.WaterG, Weighings: len(v.Weighings)})
		}
	}
	return v
}

func (d *damState) view() Dam {
	v := Dam{Name: d.name(), Profile: d.profile, Clutches: slices.Clone(d.clutches), Looks: looksOf(d.looks)}
	for _, it := range d.pairings {
		v.Pairings = append(v.Pairings, Pairing{At: it.At, Sire: it.Sire})
	}
	for _, it := range d.rests {
		v.Rested = append(v.Rested, it.At)
	}
	if d.retired != nil {
		v.Retired = d.retired.At
	}
	return v
}

func looksOf(items []*item) []Look {
	var all []Look
	for _, it := range items {
		all = append(all, Look{At: it.At, Found: it.Found})
	}
	return all
}
