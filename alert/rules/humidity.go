package rules

import (
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/daily"
	"example.com/ootherm/alert/panel"
)

// humidity watches the bands of humidity: a warning outside them.
type humidity struct{}

func (humidity) Kinds() []alert.Kind { return []alert.Kind{alert.HumidityHigh, alert.HumidityLow} }

func (humidity) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for i := range v.Zones {
		z := &v.Zones[i]
		bandLimits(limits, alert.HumidityLow, alert.HumidityHigh, alert.Warning, z.Name, z.Humidity, callAgainWarning)
	}
}

func (humidity) Show(v *View, p *panel.Panel) {
	for i := range v.Zones {
		if z := &v.Zones[i]; z.Humidity != nil {
			showBands(p, z, alert.HumidityLow, alert.HumidityHigh, moisture, priorityBand{z.Humidity, alert.Warning})
		}
	}
}

// HumidityMemory is how far back the days of a humidity are taught after a start: as far as they
// are remembered, and the day before.
const HumidityMemory = 11 * 24 * time.Hour

// humidityTrendOffDelay is how long a change over days must be none before it is told again (our
// choice): a day that goes the other way does not begin another story.
const humidityTrendOffDelay = 3 * 24 * time.Hour

// humidityTrend watches the humidity of each zone for a change over days that leads past its
// band. It is told once, days before; its end is not told, and the band has its own alarm.
type humidityTrend struct {
	past    Past
	byProbe map[string]Rebuilt[*daily.Trend, Sample]
	fed     map[string]time.Time
	coming  map[alert.Key]daily.Coming
	at      time.Time // of the last look
}

func newHumidityTrend(past Past) *humidityTrend {
	return &humidityTrend{past: past, byProbe: map[string]Rebuilt[*daily.Trend, Sample]{}, fed: map[string]time.Time{}, coming: map[alert.Key]daily.Coming{}}
}

// HumidityTrend is the alarm of a zone whose humidity goes to a limit over days. There is time,
// so it is a notice.
func HumidityTrend(zone string, high bool) alert.Key {
	k := alert.Key{Kind: alert.HumidityFalling, Priority: alert.Notice, Zone: zone}
	if high {
		k.Kind = alert.HumidityRising
	}
	return k
}

func (*humidityTrend) Kinds() []alert.Kind {
	return []alert.Kind{alert.HumidityFalling, alert.HumidityRising}
}

func (h *humidityTrend) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for i := range v.Zones {
		z := &v.Zones[i]
		for _, high := range [...]bool{false, true} {
			if z.Humidity.Has(high) {
				limits[HumidityTrend(z.Name, high)] = panel.Condition(0, humidityTrendOffDelay, 0)
			}
		}
	}
}

// forget has the days taken from the history again.
func (h *humidityTrend) forget() {
	for _, x := range h.byProbe {
		x.Drop()
	}
	clear(h.byProbe)
	clear(h.fed)
}

func (h *humidityTrend) Show(v *View, p *panel.Panel) {
	for i := range v.Zones {
		h.follow(&v.Zones[i])
	}
	if v.Now.Sub(h.at).Abs() < lookEvery {
		return
	}
	h.at = v.Now
	clear(h.coming)
	for i := range v.Zones {
		z := &v.Zones[i]
		for _, high := range [...]bool{false, true} {
			if z.Humidity.Has(high) {
				h.show(v, p, z, high)
			}
		}
	}
}

// follow shows the days of a zone's probes what is new. Whether a probe measures humidity may
// only show in its readings.
func (h *humidityTrend) follow(z *Zone) {
	if z.Humidity == nil {
		return
	}
	for i := range z.humidityWatchers() {
		p := z.watcher(i)
		if !p.Fresh || math.IsNaN(p.Humidity) || !p.Good.After(h.fed[p.Name]) {
			continue
		}
		x := h.byProbe[p.Name]
		if x == nil {
			x = h.past.HumidityDays(p.Name)
			h.byProbe[p.Name] = x
		}
		x.Observe(Sample{Probe: p.Name, At: p.Good, Celsius: p.Celsius, Humidity: p.Humidity})
		h.fed[p.Name] = p.Good
	}
}

// show shows the panel whether the humidity of a zone goes to a limit. The alarm is hidden before
// it ends, so that its end is not told.
func (h *humidityTrend) show(v *View, p *panel.Panel, z *Zone, high bool) {
	k := HumidityTrend(z.Name, high)
	ready := true
	for i := range z.humidityWatchers() {
		name := z.watcher(i).Name
		x := h.byProbe[name]
		if x == nil {
			continue
		}
		ready = ready && x.Ready()
		c, ok := x.Get().Passes(v.Now, z.Humidity.Limit(high, 0).At, high)
		if soonest, known := h.coming[k]; ok && (!known || c.At.Before(soonest.At)) {
			h.coming[k] = c
		}
	}
	_, comes := h.coming[k]
	if p.Stands(k) && !comes && ready {
		p.Suppress(k, true)
	}
	truth(p, k, comes, ready)
	if !p.Stands(k) {
		p.Suppress(k, false)
	}
}

// HumidityComing is what an alarm of a change over days foretells; false where it foretells
// nothing.
func (s *Set) HumidityComing(k alert.Key) (daily.Coming, bool) {
	c, ok := s.humidity.coming[k]
	return c, ok
}
