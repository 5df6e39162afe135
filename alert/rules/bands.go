package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// bandLimits adds the alarms of both ends of a band of a zone; of nil, none.
func bandLimits(limits map[alert.Key]alert.Limit, low, high alert.Kind, p alert.Priority, zone string, b *Band, again time.Duration) {
	if b.Has(false) {
		limits[alert.Key{Kind: low, Priority: p, Zone: zone}] = b.Limit(false, again)
	}
	if b.Has(true) {
		limits[alert.Key{Kind: high, Priority: p, Zone: zone}] = b.Limit(true, again)
	}
}

// showBands shows the alarms of a zone's bands its worst values. One that stands because of a
// probe that has gone silent does not end by the probes that are left.
func showBands(p *panel.Panel, z *Zone, low, high alert.Kind, of quantity, bands ...priorityBand) {
	sources := func() []panel.Source { return z.sources(of) }
	show := func(kind alert.Kind, isHigh bool) {
		value, who := z.worst(of, isHigh)
		r := panel.Reading{Value: value, Known: who != nil, Probe: nameOf(who)}
		for _, b := range bands {
			if b.Has(isHigh) {
				p.ShowLatched(alert.Key{Kind: kind, Priority: b.priority, Zone: z.Name}, r, sources)
			}
		}
	}
	show(high, true)
	show(low, false)
}

// priorityBand is a band, nil for none, and the priority of what is outside it.
type priorityBand struct {
	*Band
	priority alert.Priority
}
