package station

import (
	"cmp"
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/track"
)

// zoneState is one room, shelf or incubator.
type zoneState struct {
	plan   plan.Zone
	probes []*zone.Probe
	boxed  []*zone.Probe // of boxes with eggs here, that no zone lists
	trend  alert.Trend
	force  [3]*plan.Band // the bands wanted, safe and of humidity that the alarms last had
}

// source is where temperatures come from, and what follows them.
type source struct {
	id      sourceID
	zone    *zone.Zone
	spread  *rebuild.Value[*zone.MeanSpread, zone.Value]
	climate *rebuild.Value[*track.DailyClimate, thermal.Sample]
	tracks  []*exposureTrack // of the eggs that feel it now
	samples []zone.Sample    // of the instant that is being applied
}

// build makes the probes, zones and sources of the plan.
func (s *Station) build() {
	for _, p := range s.plan.Probes {
		s.probes[p.Name] = zone.NewProbe(p.Name, s.plan.Fresh())
		s.addSource(sourceID{probe: p.Name}, []string{p.Name})
	}
	for _, z := range s.plan.Zones {
		x := &zoneState{plan: z}
		for _, name := range z.Probes {
			x.probes = append(x.probes, s.probes[name])
		}
		s.zones = append(s.zones, x)
		s.addSource(sourceID{zone: z.Name}, z.Probes)
	}
}

func (s *Station) addSource(src sourceID, probes []string) {
	x := &source{
		id: src, zone: zone.New(probes, s.plan.Fresh()),
		spread:  rebuild.NewValue(&zone.MeanSpread{}, (*zone.MeanSpread).Add),
		climate: rebuild.NewValue(track.NewDailyClimate(s.plan.Location, s.plan.GapLimit()), (*track.DailyClimate).Observe),
	}
	s.sources[src] = x
	for _, p := range probes {
		s.feeds[p] = append(s.feeds[p], x)
	}
}

// screen says of each reading whether it is believed, in the order of their
// times.
func (s *Station) screen(readings []sensor.Reading) []sensor.Reading {
	readings = slices.Clone(readings)
	slices.SortStableFunc(readings, func(a, b sensor.Reading) int {
		return cmp.Or(cmp.Compare(a.Boot, b.Boot), cmp.Compare(a.Uptime, b.Uptime), cmp.Compare(a.Probe, b.Probe))
	})
	kept := readings[:0]
	for _, r := range readings {
		p, ok := s.probes[r.Probe]
		if !ok {
			continue
		}
		kept = append(kept, p.Screen(r))
	}
	return kept
}

// countAtInstant is how many of the readings share the first one's instant.
func countAtInstant(readings []sensor.Reading) int {
	n := 1
	for n < len(readings) && readings[n].Stamp == readings[0].Stamp {
		n++
	}
	return n
}

// apply follows screened readings of one instant into probes, sources and the
// exposure of the eggs there.
func (s *Station) apply(readings []sensor.Reading, at time.Time) {
	for _, r := range readings {
		p := s.probes[r.Probe]
		if !p.Step(at, r, s.corrections.Load().Measurement(r.Probe, at, r.Measurement)) {
			continue
		}
		for _, x := range s.feeds[r.Probe] {
			x.samples = append(x.samples, zone.Sample{Probe: r.Probe, Celsius: p.Celsius})
		}
	}
	for _, r := range readings {
		for _, x := range s.feeds[r.Probe] {
			if len(x.samples) > 0 {
				s.step(x, at)
			}
		}
	}
	for _, z := range s.zones {
		if v := s.sources[sourceID{zone: z.plan.Name}].zone.At(at); !math.IsNaN(v.Celsius) {
			z.trend.Observe(at, v.Celsius, true)
		}
	}
}

// step follows the samples of one instant into a source and the exposure of its eggs.
func (s *Station) step(x *source, at time.Time) {
	v, causes := x.zone.Step(at, x.samples)
	x.samples = x.samples[:0]
	x.spread.Observe(v)
	sample := thermal.Sample{At: at, Celsius: v.Celsius}
	x.climate.Observe(sample)
	for _, t := range x.tracks {
		t.observe(sample)
	}
	for _, c := range causes {
		s.probes[c.Probe].LeaveOut(c.Cause)
	}
}

// zoneOf is a zone by its name; nil where there is none.
func (s *Station) zoneOf(name string) *zoneState {
	for _, z := range s.zones {
		if z.plan.Name == name {
			return z
		}
	}
	return nil
}

// extreme is the highest or lowest fresh value of what a zone is watched by, and its probe.
func (z *zoneState) extreme(now time.Time, value func(*zone.Probe) float64, highest bool) (float64, *zone.Probe) {
	return zone.Extreme(z.eyes(), now, value, highest)
}

// eyes are all probes that a zone is watched by.
func (z *zoneState) eyes() []*zone.Probe { return slices.Concat(z.probes, z.boxed) }

// openEyes gives each zone the probes of its boxes that no zone lists: where eggs have
// a probe of their own, somebody is called by it.
func (s *Station) openEyes() {
	listed := map[string]bool{}
	for _, z := range s.zones {
		z.boxed = nil
		for _, p := range z.probes {
			listed[p.Name] = true
		}
	}
	for _, g := range s.groups() {
		z, p := s.zoneOf(g.Zone), s.probes[g.Probe]
		if g.Waiting && z != nil && p != nil && !listed[p.Name] && !slices.Contains(z.boxed, p) {
			z.boxed = append(z.boxed, p)
		}
	}
}

// shift moves what the station remembers of this boot, when the boot gets another date.
func (s *Station) shift(by time.Duration) {
	for _, p := range s.probes {
		p.Shift(by)
	}
	for _, x := range s.sources {
		x.zone.Shift(by)
		x.spread.Get().Shift(by)
		x.climate.Get().Shift(by)
	}
	for _, z := range s.zones {
		z.trend = alert.Trend{}
	}
}

// Refused is how many readings each cause took, over all probes.
func (s *Station) Refused() map[string]int {
	total := map[string]int{}
	for _, p := range s.probes {
		for _, c := range slices.Sorted(maps.Keys(p.Errors)) {
			if c != zone.Disagrees { // it is believed; only the zone's median leaves it out
				total[string(c)] += p.Errors[c]
			}
		}
	}
	return total
}
