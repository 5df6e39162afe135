package rules

import (
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// When a fast change ends, how long it lasts before it is told, and how long it is over before
// its alarm ends: our choice.
const (
	rateDeadbandKPerHour = 1.0
	rateOnDelay          = 10 * time.Minute
	rateOffDelay         = 30 * time.Minute
)

// rateOfChange watches how fast a zone's temperature changes, either way.
type rateOfChange struct{}

// RateOfChange is the alarm of a zone whose temperature changes too fast.
func RateOfChange(zone string) alert.Key {
	return alert.Key{Kind: alert.RateOfChange, Priority: alert.Warning, Zone: zone}
}

func (rateOfChange) Kinds() []alert.Kind { return []alert.Kind{alert.RateOfChange} }

func (rateOfChange) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for i := range v.Zones {
		if z := &v.Zones[i]; z.Rate > 0 {
			limits[RateOfChange(z.Name)] = alert.Limit{
				High: true, At: z.Rate, Deadband: min(rateDeadbandKPerHour, z.Rate/2),
				OnDelay: rateOnDelay, OffDelay: rateOffDelay, ReAlarm: callAgainWarning,
			}
		}
	}
}

func (rateOfChange) Show(v *View, p *panel.Panel) {
	for i := range v.Zones {
		if z := &v.Zones[i]; z.Rate > 0 {
			rate := math.Abs(z.Trend.PerHour())
			p.Show(RateOfChange(z.Name), panel.Reading{Value: rate, Known: !math.IsNaN(rate)})
		}
	}
}
