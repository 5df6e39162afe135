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

// showBands shows the alarms of bands a zone's worst values. One that stands because of a probe
// that has gone silent does not end by the probes that are left.
func showBands(p *panel.Panel, z *Zone, low, high alert.Kind, of quantity, priorities ...alert.Priority) {
	highest, hot := z.worst(of, true)
	lowest, cold := z.worst(of, false)
	sources := func() []panel.Source { return z.sources(of) }
	for _, priority := range priorities {
		k := alert.Key{Kind: high, Priority: priority, Zone: z.Name}
		p.ShowLatched(k, panel.Reading{Value: highest, Known: hot != nil, Probe: nameOf(hot)}, sources)
		k.Kind = low
		p.ShowLatched(k, panel.Reading{Value: lowest, Known: cold != nil, Probe: nameOf(cold)}, sources)
	}
}
