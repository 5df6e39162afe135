package rules

import (
	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// temperature watches the bands of temperature: a warning outside the wanted one, critical
// outside the safe one. The bands bring their delays.
type temperature struct{}

func (temperature) Kinds() []alert.Kind {
	return []alert.Kind{alert.TemperatureHigh, alert.TemperatureLow}
}

func (temperature) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for i := range v.Zones {
		z := &v.Zones[i]
		bandLimits(limits, alert.TemperatureLow, alert.TemperatureHigh, alert.Warning, z.Name, z.Wanted, callAgainWarning)
		bandLimits(limits, alert.TemperatureLow, alert.TemperatureHigh, alert.Critical, z.Name, z.Safe, callAgainCritical)
	}
}

func (temperature) Show(v *View, p *panel.Panel) {
	for i := range v.Zones {
		z := &v.Zones[i]
		showBands(p, z, alert.TemperatureLow, alert.TemperatureHigh, celsius,
			priorityBand{z.Wanted, alert.Warning}, priorityBand{z.Safe, alert.Critical})
	}
}
