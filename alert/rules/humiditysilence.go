package rules

import (
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// HumidityRemembered is how far back before the last reading a probe's humidity is looked for
// at a start, so that one that broke while the station was off is told (our choice).
const HumidityRemembered = 24 * time.Hour

// humiditySilence watches probes that give a temperature and, of what they measured, no
// humidity. A probe that gives neither is silent, and has that alarm.
type humiditySilence struct{}

// HumiditySilence is the alarm of a probe that gives no humidity any more. Where no band asks
// for humidity it is a notice.
func HumiditySilence(z *Zone, probe string) alert.Key {
	k := alert.Key{Kind: alert.HumiditySilent, Priority: alert.Notice, Zone: z.Name, Probe: probe}
	if z.AsksHumidity {
		k.Priority = alert.Warning
	}
	return k
}

func (humiditySilence) Kinds() []alert.Kind { return []alert.Kind{alert.HumiditySilent} }

func (humiditySilence) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for i := range v.Zones {
		z := &v.Zones[i]
		for i := range z.watchers() {
			p := z.watcher(i)
			if p.Thermometer {
				continue
			}
			k, again := HumiditySilence(z, p.Name), callAgainWarning
			if k.Priority == alert.Notice {
				again = callAgainWeekly
			}
			limits[k] = panel.Condition(p.SilentAfter, silenceOffDelay, again)
		}
	}
}

func (humiditySilence) Show(v *View, p *panel.Panel) {
	for i := range v.Zones {
		z := &v.Zones[i]
		for i := range z.watchers() {
			x := z.watcher(i)
			lost := x.Moist && math.IsNaN(x.Humidity)
			p.Show(HumiditySilence(z, x.Name), panel.Reading{Value: panel.Truth(lost), Known: x.Fresh, Probe: x.Name})
		}
	}
}
