// Package published makes the values of a snapshot from those of a station: zones, probes,
// clutches, windows, alarms and events, and what the book says of boxes and dams. Its
// functions are pure. It must not know how those values are computed, or what a page or a
// metric makes of a snapshot.
package published

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/conditions"
	"example.com/ootherm/sensor/air"
	"example.com/ootherm/sensor/zone"
)

// Zone publishes a zone with the bands in force.
func Zone(z *conditions.Zone, active *rules.Zone, now time.Time) snapshot.Zone {
	c := z.Celsius(now)
	n := snapshot.Zone{
		Zone: z.Plan.Name, Kind: z.Plan.Kind, Celsius: snapshot.OptFloat(c), TrendPerHour: snapshot.OptFloat(z.Trend.PerHour()),
		SetPoint: z.Plan.SetPoint, Wanted: band(active.Wanted), Safe: band(active.Safe), Probes: []snapshot.Probe{},
	}
	if k, ok := z.Spread(); ok {
		n.SpreadK = snapshot.OptFloat(k)
	}
	if b := active.Humidity; b != nil {
		n.HumidityBand = snapshot.Ratios{Low: b.Low, High: b.High}
	}
	for _, p := range z.Probes {
		n.Probes = append(n.Probes, probe(p, now))
	}
	if h, ok := humidity(z, now); ok {
		n.Humidity = snapshot.OptFloat(h)
		n.DewPoint = snapshot.OptFloat(air.DewPoint(c, h))
		n.Deficit, n.Vapour = snapshot.OptFloat(air.Deficit(c, h)), snapshot.OptFloat(air.Absolute(c, h))
	}
	return n
}

// humidity is the median of the fresh humidities of a zone, as a ratio; false where there is
// none.
func humidity(z *conditions.Zone, now time.Time) (float64, bool) {
	var fresh []float64
	for _, p := range z.Probes {
		if p.Fresh(now) && !math.IsNaN(p.Humidity) {
			fresh = append(fresh, p.Humidity)
		}
	}
	if len(fresh) == 0 {
		return 0, false
	}
	slices.Sort(fresh)
	return zone.Median(fresh), true
}

// probe publishes a probe. Only one whose status is ok has values.
func probe(p *zone.Probe, now time.Time) snapshot.Probe {
	n := snapshot.Probe{Probe: p.Name, Status: string(p.Status(now)), Errors: map[string]int{}}
	for c, k := range p.Errors {
		n.Errors[string(c)] = k
	}
	if p.Cause != "" {
		n.Cause = snapshot.OptText(string(p.Cause))
	}
	if !p.LastBelieved.IsZero() {
		last := p.LastBelieved
		n.LastGood, n.AgeSeconds = &last, snapshot.OptFloat(now.Sub(last).Seconds())
	}
	if p.Status(now) == zone.OK {
		n.Celsius, n.Humidity = snapshot.OptFloat(p.Celsius), snapshot.OptFloat(p.Humidity)
		n.Saturated = p.Saturated()
	}
	return n
}

func band(b *rules.Band) snapshot.Band {
	if b == nil {
		return snapshot.Band{}
	}
	return snapshot.Band{Low: b.Low, High: b.High}
}
