package rules

import (
	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// humidity watches the bands of humidity: a warning outside them.
type humidity struct{ bands }

func (*humidity) Kinds() []alert.Kind { return []alert.Kind{alert.HumidityHigh, alert.HumidityLow} }

func (*humidity) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for i := range v.Zones {
		z := &v.Zones[i]
		bandLimits(limits, alert.HumidityLow, alert.HumidityHigh, alert.Warning, z.Name, z.Humidity, callAgainWarning)
	}
}

func (h *humidity) Show(v *View, p *panel.Panel) {
	for i := range v.Zones {
		h.show(p, &v.Zones[i], alert.HumidityLow, alert.HumidityHigh, moisture, alert.Warning)
	}
}
