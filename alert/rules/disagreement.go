package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// When the distance between probes ends, how long it lasts before it is told, and how long it
// is over before its alarm ends: our choice.
const (
	disagreementDeadbandK = 0.5
	disagreementOnDelay   = time.Hour
	disagreementOffDelay  = 30 * time.Minute
)

// disagreement watches how far the probes of a zone lie apart.
type disagreement struct{}

// Disagreement is the alarm of a zone's probes that lie too far apart.
func Disagreement(zone string) alert.Key {
	return alert.Key{Kind: alert.ProbesDisagree, Priority: alert.Warning, Zone: zone}
}

func (disagreement) Kinds() []alert.Kind { return []alert.Kind{alert.ProbesDisagree} }

func (disagreement) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for i := range v.Zones {
		if z := &v.Zones[i]; z.Apart > 0 && z.watchers() > 1 {
			limits[Disagreement(z.Name)] = alert.Limit{
				High: true, At: z.Apart, Deadband: min(disagreementDeadbandK, z.Apart/2),
				OnDelay: disagreementOnDelay, OffDelay: disagreementOffDelay, ReAlarm: callAgainDaily,
			}
		}
	}
}

// Show holds an alarm that stands while one of the two probes that were apart is silent: those
// that are left may agree.
func (disagreement) Show(v *View, p *panel.Panel) {
	for i := range v.Zones {
		z := &v.Zones[i]
		x, ok := p.Alarm(Disagreement(z.Name))
		if !ok {
			continue
		}
		high, hot := z.worst(celsius, true)
		low, cold := z.worst(celsius, false)
		known, held := hot != nil && cold != nil && hot != cold, x.Held
		if known && x.Limit.Beyond(high-low) {
			held = map[string]float64{hot.Name: high, cold.Name: low}
		}
		if p.Hold(x.Key, held, z.silent) && !x.Limit.Beyond(high-low) {
			known = false
		}
		p.Show(x.Key, panel.Reading{Value: high - low, Known: known})
	}
}
