package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// Shares of the water that a box began with, all our choice: a weekly top-up makes good about
// a tenth; twice that is more than a week should take, four times is a dry box. Whoever weighs
// a box waters it at once, which is given an hour.
const (
	dryNoticeShare  = 0.2
	dryWarningShare = 0.4
	dryOnDelay      = time.Hour
)

// drying watches the water that boxes with eggs have lost. A box that was never weighed has no
// alarm.
type drying struct {
	book int // of the last look
	at   time.Time
}

// Drying is the alarm of a box that loses its water.
func Drying(box string, p alert.Priority) alert.Key {
	return alert.Key{Kind: alert.Drying, Priority: p, Box: box}
}

func (*drying) Kinds() []alert.Kind { return []alert.Kind{alert.Drying} }

func (*drying) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for _, b := range v.Boxes {
		if b.Lost != nil && b.Eggs {
			limits[Drying(b.Name, alert.Notice)] = alert.Condition(dryOnDelay, 0, 0)
			limits[Drying(b.Name, alert.Warning)] = alert.Condition(dryOnDelay, 0, callAgainDaily)
		}
	}
}

func (d *drying) Show(v *View, p *panel.Panel) {
	if d.book == v.Book && v.Now.Sub(d.at).Abs() < lookEvery {
		return
	}
	d.book, d.at = v.Book, v.Now
	for _, b := range v.Boxes {
		if b.Lost == nil {
			continue
		}
		notice, warning := Drying(b.Name, alert.Notice), Drying(b.Name, alert.Warning)
		truth(p, warning, *b.Lost >= dryWarningShare, true)
		dry := p.Stands(warning)
		if dry {
			p.Suppress(notice, true)
		}
		truth(p, notice, *b.Lost >= dryNoticeShare, true)
		if !dry {
			p.Suppress(notice, false)
		}
	}
}
