package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/thermal/book/husbandry"
)

// dryOnDelay is how long a dry box is given: whoever weighs it waters it at once (our choice).
const dryOnDelay = time.Hour

// The air of a zone dries boxes fast from this many times a box's usual loss over a day, and
// until it is this many times (our choice). A day has one night and one noon, so the day's course
// of a room calls nothing.
const (
	fastTimes      = 2
	fastUntilTimes = 1.5
)

// drying watches the water that boxes with eggs have lost, as weighed or as computed since. A
// box that was never weighed has no alarm. It also watches the air of the zones for a loss that
// is much faster than it was.
type drying struct {
	book int // of the last look
	at   time.Time
}

// Drying is the alarm of a box that loses its water.
func Drying(box string, p alert.Priority) alert.Key {
	return alert.Key{Kind: alert.Drying, Priority: p, Box: box}
}

// DryingFast is the alarm of a zone whose air dries boxes much faster than before.
func DryingFast(zone string) alert.Key {
	return alert.Key{Kind: alert.Drying, Priority: alert.Notice, Zone: zone}
}

func (*drying) Kinds() []alert.Kind { return []alert.Kind{alert.Drying} }

func (*drying) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for _, b := range v.Boxes {
		if b.Lost == nil || !b.Eggs {
			continue
		}
		limits[Drying(b.Name, alert.Notice)] = panel.Condition(dryOnDelay, 0, 0)
		limits[Drying(b.Name, alert.Warning)] = panel.Condition(dryOnDelay, 0, callAgainDaily)
		if b.Zone != "" {
			limits[DryingFast(b.Zone)] = panel.Condition(0, humidityTrendOffDelay, 0)
		}
	}
}

func (d *drying) Show(v *View, p *panel.Panel) {
	if d.book == v.Book && v.Now.Sub(d.at).Abs() < lookEvery {
		return
	}
	d.book, d.at = v.Book, v.Now
	for i := range v.Boxes {
		if v.Boxes[i].Lost != nil {
			v.Boxes[i].showDry(p)
		}
	}
	for i := range v.Zones {
		showDryingFast(v, p, v.Zones[i].Name)
	}
}

func (b *Box) showDry(p *panel.Panel) {
	lost := *b.Lost
	if b.Foretold.Share != nil {
		lost = max(lost, *b.Foretold.Share)
	}
	notice, warning := Drying(b.Name, alert.Notice), Drying(b.Name, alert.Warning)
	known := lost >= husbandry.VeryDryShare || b.lossKnown(p, warning)
	if p.Stands(warning) && known && lost >= husbandry.DryShare && lost < husbandry.VeryDryShare {
		p.Suppress(warning, true) // the notice goes on: its end would say that all is well
	}
	truth(p, warning, lost >= husbandry.VeryDryShare, known)
	dry := p.Stands(warning)
	if !dry {
		p.Suppress(warning, false)
	}
	if dry {
		p.Suppress(notice, true)
	}
	truth(p, notice, lost >= husbandry.DryShare, lost >= husbandry.DryShare || b.lossKnown(p, notice))
	if !dry {
		p.Suppress(notice, false)
	}
}

// lossKnown reports whether what a box lost is known well enough to end an alarm. What was
// computed when the alarm began may not be known now; a weighing since then decides.
func (b *Box) lossKnown(p *panel.Panel, k alert.Key) bool {
	x, ok := p.Alarm(k)
	return !b.Foretold.Unknown || ok && b.Foretold.Tended.After(x.Began)
}

// showDryingFast shows the panel whether the boxes of a zone dry fast. Air that has an alarm of
// its own is told by that alone: what stands hidden stays hidden until it is over. It is hidden
// before it ends, so that its end is not told.
func showDryingFast(v *View, p *panel.Panel, zone string) {
	k, from := DryingFast(zone), float64(fastTimes)
	if p.Stands(k) {
		from = fastUntilTimes
	}
	fast, known, unknown := false, false, false
	for _, b := range v.Boxes {
		if b.Zone == zone && b.Eggs {
			known = known || b.Foretold.Times >= 0
			unknown = unknown || b.Foretold.Unknown
			fast = fast || b.Foretold.Times >= from
		}
	}
	told := p.Stands(HumidityTrend(zone, false)) ||
		p.Stands(alert.Key{Kind: alert.HumidityLow, Priority: alert.Warning, Zone: zone}) ||
		p.Stands(alert.Key{Kind: alert.TemperatureHigh, Priority: alert.Warning, Zone: zone}) ||
		p.Stands(alert.Key{Kind: alert.TemperatureHigh, Priority: alert.Critical, Zone: zone})
	if told && !p.Stands(k) || p.Stands(k) && known && !fast {
		p.Suppress(k, true)
	}
	truth(p, k, fast, known || !unknown)
	if !told && !p.Stands(k) {
		p.Suppress(k, false)
	}
}
