// Package conditions owns the present state of the probes, the zones and the sources of
// temperature: what they last gave, the zones' trends, spreads and daily climates. It
// follows readings one instant at a time, and takes from the stored ones what was before
// the start. It must not know eggs beyond the boxes they lie in, nor alarms and pages.
package conditions

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/response"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/track"
)

// Conditions is the state of probes and zones after the last instant. One goroutine calls the
// methods.
type Conditions struct {
	Started time.Time     // when the station started
	Off     time.Duration // how long it was off before that; 0: hardly, or not known
	Probes  map[string]*zone.Probe
	Zones   []*Zone // in the order of the plan
	// Responses are how the probes went in the last hour.
	Responses map[string]*response.Response

	plan    plan.Plan
	past    *pastreadings.Past
	sources map[track.Source]*source
	fed     map[string]*fedProbe // by name
	changed func()

	screened []sensor.Reading // kept between calls of Screen to save memory
	sampled  []*source        // those with samples of the instant that is being applied
}

// Zone is one room, shelf or incubator.
type Zone struct {
	Plan      plan.Zone
	Probes    []*zone.Probe
	BoxProbes []*zone.Probe // of boxes with eggs here, that no zone lists
	Trend     alert.Trend
	source    *source
}

// fedProbe is a probe, and what its readings feed.
type fedProbe struct {
	*zone.Probe
	response *response.Response
	sources  []*source
}

// source is where temperatures come from.
type source struct {
	id      track.Source
	zone    *zone.Zone
	spread  *rebuild.Value[*zone.MeanSpread, zone.Value]
	climate *rebuild.Value[*track.DailyClimate, thermal.Sample]
	samples []zone.Sample // of the instant that is being applied
	value   zone.Value    // of the last instant
}

// New makes the conditions of a plan before the first reading. Changed is called when a
// daily climate was rebuilt.
func New(p plan.Plan, past *pastreadings.Past, started time.Time, changed func()) *Conditions {
	c := &Conditions{
		Started: started, Probes: map[string]*zone.Probe{}, Responses: map[string]*response.Response{},
		plan: p, past: past, sources: map[track.Source]*source{}, fed: map[string]*fedProbe{}, changed: changed,
	}
	for _, x := range p.Probes {
		f := &fedProbe{Probe: zone.NewProbe(x.Name, p.Fresh()), response: &response.Response{}}
		c.fed[x.Name], c.Probes[x.Name], c.Responses[x.Name] = f, f.Probe, f.response
		c.addSource(track.Source{Probe: x.Name}, []string{x.Name}, 0)
	}
	for _, x := range p.Zones {
		z := &Zone{Plan: x, source: c.addSource(track.Source{Zone: x.Name}, x.Probes, x.Apart)}
		for _, name := range x.Probes {
			z.Probes = append(z.Probes, c.Probes[name])
		}
		c.Zones = append(c.Zones, z)
	}
	return c
}

func (c *Conditions) addSource(id track.Source, probes []string, apart float64) *source {
	x := &source{
		id: id, zone: zone.New(probes, c.plan.Fresh(), apart),
		spread:  rebuild.NewValue(&zone.MeanSpread{}, (*zone.MeanSpread).Add),
		climate: rebuild.NewValue(track.NewDailyClimate(c.plan.GapLimit()), (*track.DailyClimate).Observe),
	}
	c.sources[id] = x
	for _, p := range probes {
		c.fed[p].sources = append(c.fed[p].sources, x)
	}
	return x
}

// Screen marks each reading that is not believed, in the order of their times. Readings of
// unknown probes are left out. The result is good until the next call.
func (c *Conditions) Screen(readings []sensor.Reading) []sensor.Reading {
	readings = append(c.screened[:0], readings...)
	c.screened = readings
	slices.SortStableFunc(readings, func(a, b sensor.Reading) int {
		if a.Stamp == b.Stamp {
			return strings.Compare(a.Probe, b.Probe)
		}
		return cmp.Or(cmp.Compare(a.Boot, b.Boot), cmp.Compare(a.Uptime, b.Uptime))
	})
	kept := readings[:0]
	for _, r := range readings {
		p, ok := c.fed[r.Probe]
		if !ok {
			continue
		}
		kept = append(kept, p.Screen(r))
	}
	return kept
}

// Observe follows screened readings of one instant into probes, zones and sources. Each
// new sample of a source is handed to sampled.
func (c *Conditions) Observe(readings []sensor.Reading, at time.Time, sampled func(track.Source, thermal.Sample)) {
	for _, r := range readings {
		p := c.fed[r.Probe]
		if !p.Step(at, r, c.past.Measurement(r.Probe, at, r.Measurement)) {
			continue
		}
		p.response.Observe(at, p.Celsius)
		for _, x := range p.sources {
			if len(x.samples) == 0 {
				c.sampled = append(c.sampled, x)
			}
			x.samples = append(x.samples, zone.Sample{Probe: r.Probe, Celsius: p.Celsius})
		}
	}
	for _, x := range c.sampled {
		sampled(x.id, c.step(x, at))
	}
	c.sampled = c.sampled[:0]
	for _, z := range c.Zones {
		v := z.source.value.Celsius
		if !z.source.value.At.Equal(at) {
			v = z.source.zone.At(at).Celsius
		}
		if math.IsNaN(v) {
			v = z.source.zone.MedianOfAll(at)
		}
		if !math.IsNaN(v) {
			z.Trend.Observe(at, v, true)
		}
	}
}

// step takes a source's samples of one instant, and gives its temperature then.
func (c *Conditions) step(x *source, at time.Time) thermal.Sample {
	v, causes := x.zone.Step(at, x.samples)
	x.samples, x.value = x.samples[:0], v
	x.spread.Observe(v)
	sample := thermal.Sample{At: at, Celsius: v.Celsius}
	x.climate.Observe(sample)
	for _, cause := range causes {
		c.Probes[cause.Probe].LeaveOut(cause.Cause)
	}
	return sample
}

// Zone is a zone by its name; nil where there is none.
func (c *Conditions) Zone(name string) *Zone {
	for _, z := range c.Zones {
		if z.Plan.Name == name {
			return z
		}
	}
	return nil
}

// Celsius is the temperature of a source at a time; NaN where it has none.
func (c *Conditions) Celsius(src track.Source, at time.Time) float64 {
	x := c.sources[src]
	if x == nil {
		return math.NaN()
	}
	return x.zone.At(at).Celsius
}

// Climate is what a source did day by day; nil where there is no such source.
func (c *Conditions) Climate(src track.Source) *track.DailyClimate {
	if x := c.sources[src]; x != nil {
		return x.climate.Get()
	}
	return nil
}

// Spread is how far the probes of a zone lie apart on average; 0 where that is not known.
func (c *Conditions) Spread(name string) float64 {
	if x := c.sources[track.Source{Zone: name}]; x != nil {
		return x.spread.Get().Kelvin
	}
	return 0
}

// OnlyProbe is the probe that a zone's temperature comes from; empty where there are several,
// or none.
func (c *Conditions) OnlyProbe(name string) string {
	if z := c.Zone(name); z != nil && len(z.Probes) == 1 {
		return z.Probes[0].Name
	}
	return ""
}

// ProbeError is how wrong a source may have been throughout since a time, in K, one standard
// deviation, by the calibration of its probes; 0 where one was not calibrated by then.
func (c *Conditions) ProbeError(src track.Source, since time.Time) (worst float64) {
	probes := []string{src.Probe}
	if src.Probe == "" {
		probes = nil
		if z := c.Zone(src.Zone); z != nil {
			probes = z.Plan.Probes
		}
	}
	for _, p := range probes {
		sd := c.past.TemperatureSD(p, since)
		if sd == 0 {
			return 0
		}
		worst = max(worst, sd)
	}
	return worst
}

// Sources are the sources that a probe's readings feed.
func (c *Conditions) Sources(probe string) (all []track.Source) {
	if p := c.fed[probe]; p != nil {
		for _, x := range p.sources {
			all = append(all, x.id)
		}
	}
	return all
}

// Celsius is the temperature of a zone at a time; NaN where it has none.
func (z *Zone) Celsius(at time.Time) float64 { return z.source.zone.At(at).Celsius }

// Spread is how far apart the zone's probes are on average, in kelvin; false where it never
// had two to compare.
func (z *Zone) Spread() (float64, bool) {
	s := z.source.spread.Get()
	return s.Kelvin, len(z.Probes) > 1 && s.Known()
}

// Extreme is the highest or lowest fresh value of the probes that watch a zone, those of
// its boxes too, and its probe.
func (z *Zone) Extreme(now time.Time, value func(*zone.Probe) float64, highest bool) (float64, *zone.Probe) {
	return zone.Extreme(slices.Concat(z.Probes, z.BoxProbes), now, value, highest)
}

// UpdateBoxProbes gives each zone the probes of its boxes with eggs that no zone lists:
// where eggs have a probe of their own, it calls too.
func (c *Conditions) UpdateBoxProbes(groups []*track.Group) {
	listed := map[string]bool{}
	for _, z := range c.Zones {
		z.BoxProbes = nil
		for _, p := range z.Probes {
			listed[p.Name] = true
		}
	}
	for _, g := range groups {
		z, p := c.Zone(g.Zone), c.Probes[g.Probe]
		if g.Waiting && z != nil && p != nil && !listed[p.Name] && !slices.Contains(z.BoxProbes, p) {
			z.BoxProbes = append(z.BoxProbes, p)
		}
	}
}

// Refused is how many readings each cause took, over all probes.
func (c *Conditions) Refused() map[string]int {
	total := map[string]int{}
	for _, p := range c.Probes {
		for _, cause := range slices.Sorted(maps.Keys(p.Errors)) {
			if cause != zone.Disagrees { // it is believed; only the zone's median leaves it out
				total[string(cause)] += p.Errors[cause]
			}
		}
	}
	return total
}

// SilentBuses are the buses none of whose probes gave any answer, good or bad, for three
// polls; a probe that shares its wire with none is a bus of its own.
func (c *Conditions) SilentBuses(now time.Time) []string {
	heard := map[string]bool{}
	for _, p := range c.plan.Probes {
		bus := cmp.Or(p.Bus, p.Name)
		heard[bus] = heard[bus] || c.since(c.Probes[p.Name].LastAnswered, now) <= c.plan.Fresh()
	}
	silent := []string{}
	for _, bus := range slices.Sorted(maps.Keys(heard)) {
		if !heard[bus] {
			silent = append(silent, bus)
		}
	}
	return silent
}

// Polled reports whether every probe was tried within three polls: one that fails is an
// alarm, one that is not even tried is a station that hangs.
func (c *Conditions) Polled(now time.Time) bool {
	for _, p := range c.Probes {
		if c.since(p.LastTried, now) > c.plan.Fresh() {
			return false
		}
	}
	return true
}

// LastPoll is the time since which every probe was tried. It is zero where one never was.
func (c *Conditions) LastPoll() time.Time {
	var oldest time.Time
	for i, p := range slices.Collect(maps.Values(c.Probes)) {
		if i == 0 || p.LastTried.Before(oldest) {
			oldest = p.LastTried
		}
	}
	return oldest
}

// since is how long ago a time of this start was, at most since the start.
func (c *Conditions) since(at, now time.Time) time.Duration {
	if c.Started.After(at) {
		at = c.Started
	}
	return now.Sub(at)
}
