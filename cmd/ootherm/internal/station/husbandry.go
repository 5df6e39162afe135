package station

import (
	"math"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/husbandry"
	"example.com/ootherm/thermal/profile"
)

// Figures of drying, all our choice. A weekly top-up makes good about a tenth of
// the water; twice that is more than a week should take, four times is a dry box.
// Whoever weighs a box waters it at once, which is given an hour.
const (
	scaleError = 0.5       // g: a kitchen scale that shows whole grams
	careKept   = time.Hour // a day's date is no younger
)

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
	c := &care{of: s.book, at: s.now, medium: map[string]*snapshot.Medium{}, dams: []snapshot.Dam{}}
	for _, b := range s.book.Boxes() {
		if b.InUse {
			c.medium[b.ID] = s.mediumOf(b)
		}
	}
	for _, d := range s.book.Dams() {
		if !husbandry.Resting(s.book, d.Name) {
			c.dams = append(c.dams, s.damOf(d))
		}
	}
	s.cared = c
	return c
}

// mediumOf is what a box's weighings say of its water.
func (s *Station) mediumOf(b book.Box) *snapshot.Medium {
	scale := s.scale(b)
	m := &snapshot.Medium{Medium: snapshot.OptText(b.Medium), Dry: b.DryG, Water: b.WaterG, Total: b.TotalG}
	if b.DryG != nil && b.WaterG != nil && *b.DryG > 0 {
		m.WantedRatio = snapshot.OptFloat(*b.WaterG / *b.DryG)
	}
	if n := len(b.Weighings); n > 0 {
		m.Weighed = &b.Weighings[n-1].At
	}
	if t, ok := husbandry.NextWeighing(s.book, b.ID, scale); ok && len(b.Eggs) > 0 {
		m.WeighNext = &t
	}
	w, err := husbandry.WaterOf(s.book, b.ID, scale)
	if err != nil {
		why, ok := usererr.Message(err)
		if !ok {
			why = err.Error()
		}
		m.Unknown = snapshot.OptText(why)
		return m
	}
	m.Add, m.AddLow, m.AddHigh = snapshot.OptFloat(w.Add), snapshot.OptFloat(w.Low), snapshot.OptFloat(w.High)
	m.Ratio, m.PerDay, m.Warning = snapshot.OptFloat(w.Ratio), snapshot.OptFloat(w.PerDay), snapshot.OptText(w.Warning)
	if b.WaterG != nil && *b.WaterG > 0 {
		m.Lost = snapshot.OptFloat(w.Low / *b.WaterG)
	}
	return m
}

// scale is how heavy the eggs of a box may be, and how wrong a weighing.
func (s *Station) scale(b book.Box) husbandry.Scale {
	scale := husbandry.Scale{EggG: math.Inf(1), ErrorG: scaleError}
	for _, g := range s.groups() {
		if g.Box != b.ID {
			continue
		}
		p, ok := s.plan.Profile(g.Profile)
		if !ok || p.EggG == (profile.Band{}) {
			return husbandry.Scale{ErrorG: scaleError} // of one kind in it this is not known
		}
		scale.EggG, scale.EggMostG = min(scale.EggG, p.EggG.Low), max(scale.EggMostG, p.EggG.High)
	}
	if math.IsInf(scale.EggG, 1) {
		scale.EggG = 0
	}
	return scale
}

// damOf is when a dam may lay next.
func (s *Station) damOf(f book.Dam) snapshot.Dam {
	d := snapshot.Dam{Dam: f.Name, Profile: snapshot.OptText(f.Profile), Due: "unknown"}
	if t, ok := husbandry.LastEmptyLook(s.book, f.Name, s.now); ok {
		d.LastLook = &t
	}
	if n := len(f.Clutches); n > 0 {
		c, _ := s.book.Clutch(f.Clutches[n-1])
		d.LastLaid = &snapshot.Laid{Earliest: c.Laid.After, Latest: c.Laid.By}
	}
	l, ok := husbandry.NextLaying(s.book, f.Name, s.now)
	if !ok {
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
	switch {
	case s.now.Before(l.Look):
		d.Due = "later"
	case s.now.Before(l.By):
		d.Due = "look"
	default:
		d.Due = "overdue"
	}
	return d
}

// dryHeadline is what to do for a dry box in a few words; dryDetail in more.
func (s *Station) dryHeadline(box string) string {
	m := s.care().medium[box]
	if m == nil || m.Add == nil || m.Warning != nil {
		return "drying out: weigh it"
	}
	return "drying out: add " + words.Grams(*m.AddLow)
}

func (s *Station) dryDetail(box string, at time.Time) []string {
	m := s.care().medium[box]
	if m == nil || m.Add == nil || m.Weighed == nil {
		return nil
	}
	r := s.reader()
	told := "Weighed " + r.When(*m.Weighed, at) + ": "
	if m.Warning != nil {
		return []string{told + *m.Warning + "."}
	}
	told += words.Range(*m.AddLow, *m.AddHigh) + " of water gone, " + words.Percent(*m.Lost) + " or more of what it began with"
	if m.PerDay != nil && *m.PerDay > 0 {
		told += ", " + words.Grams(*m.PerDay) + " a day"
	}
	return []string{
		told + ".",
		"Add " + words.Range(*m.AddLow, *m.AddHigh) + " (the same in ml), lukewarm, into the medium beside the eggs and not on them; begin with the less. No more than that: eggs drown too.",
	}
}
