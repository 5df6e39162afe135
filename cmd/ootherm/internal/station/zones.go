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
	"example.com/ootherm/thermal"
)

// probe is what the station knows of one probe.
type probe struct {
	name     string
	screen   sensor.Screen
	celsius  float64 // the last believed, corrected; NaN before the first
	humidity float64
	good     time.Time // when that was
	before   time.Time // when it was last believed before this start; zero: not known
	tried    time.Time // the last reading, believed or not
	answered time.Time // the last that was an answer, good or bad
	cause    sensor.Cause
	moist    bool  // it measures humidity, as far as is known
	lacking  error // why the last believed reading had none; nil: nobody says
	errors   map[sensor.Cause]int
}

// zone is one room, shelf or incubator.
type zone struct {
	plan   plan.Zone
	probes []*probe
	boxed  []*probe // of boxes with eggs here, that no zone lists
	trend  alert.Trend
	force  [3]*plan.Band // the bands wanted, safe and of humidity that the alarms last had
}

// source is where temperatures come from, and what follows them.
type source struct {
	id      sourceID
	felt    *felt
	spread  *rebuild.Value[*spread, spreadSample]
	almanac *rebuild.Value[*almanac, thermal.Sample]
	tracks  []*groupTrack // of the eggs that feel it now
	due     bool
}

// spread is how far a zone's probes lie apart, on average over about a day.
type spread struct {
	mean float64
	at   time.Time
}

// spreadSample is how far a zone's probes lay apart at a time, in K.
type spreadSample struct {
	at    time.Time
	apart float64
}

func (s *spread) see(at time.Time, k float64) {
	if math.IsNaN(k) || at.Before(s.at) {
		return
	}
	if s.at.IsZero() {
		s.mean, s.at = k, at
		return
	}
	w := min(1, float64(at.Sub(s.at))/float64(24*time.Hour))
	s.mean, s.at = s.mean+w*(k-s.mean), at
}

// lay makes the probes, zones and sources of the plan.
func (s *Station) lay() {
	for _, p := range s.plan.Probes {
		s.probes[p.Name] = &probe{name: p.Name, celsius: math.NaN(), humidity: math.NaN(), errors: map[sensor.Cause]int{}}
		s.addSource(sourceID{probe: p.Name}, []string{p.Name})
	}
	for _, z := range s.plan.Zones {
		x := &zone{plan: z}
		for _, name := range z.Probes {
			x.probes = append(x.probes, s.probes[name])
		}
		s.zones = append(s.zones, x)
		s.addSource(sourceID{zone: z.Name}, z.Probes)
	}
}

func (s *Station) addSource(src sourceID, probes []string) {
	x := &source{
		id: src, felt: newFelt(probes, s.plan.Fresh()),
		spread:  rebuild.NewValue(&spread{}, func(d *spread, x spreadSample) { d.see(x.at, x.apart) }),
		almanac: rebuild.NewValue(newAlmanac(s.plan), (*almanac).see),
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
		p.screen, r = p.screen.Step(r)
		kept = append(kept, r)
	}
	return kept
}

// together is how many of the readings share the first one's instant.
func together(readings []sensor.Reading) int {
	n := 1
	for n < len(readings) && readings[n].Stamp == readings[0].Stamp {
		n++
	}
	return n
}

// feel follows screened readings of one instant into probes, sources and the
// exposure of the eggs there.
func (s *Station) feel(readings []sensor.Reading, at time.Time) {
	for _, r := range readings {
		p := s.probes[r.Probe]
		p.tried, p.cause = at, r.Cause
		if r.Believed() || answers(r.Cause) {
			p.answered = at
		}
		if !r.Believed() {
			p.errors[r.Cause]++
			continue
		}
		m := s.corrections.Load().measurement(p.name, at, r.Measurement)
		p.good, p.celsius, p.humidity = at, m.Celsius, m.Humidity
		p.sense(r)
		if math.IsNaN(p.celsius) {
			continue
		}
		for _, x := range s.feeds[r.Probe] {
			x.felt.see(r.Probe, thermal.Sample{At: at, Celsius: p.celsius})
			x.due = true
		}
	}
	for _, r := range readings {
		for _, x := range s.feeds[r.Probe] {
			if !x.due {
				continue
			}
			x.due = false
			x.felt.judge(at)
			c, apart := x.felt.at(at)
			x.spread.Observe(spreadSample{at, apart})
			x.almanac.Observe(thermal.Sample{At: at, Celsius: c})
			for _, t := range x.tracks {
				t.see(thermal.Sample{At: at, Celsius: c})
			}
		}
	}
	for _, r := range readings {
		for _, x := range s.feeds[r.Probe] {
			if p := s.probes[r.Probe]; r.Believed() && x.felt.disagrees(r.Probe) {
				p.cause = Disagrees
				p.errors[Disagrees]++
			}
		}
	}
	for _, z := range s.zones {
		if c, _ := s.sources[sourceID{zone: z.plan.Name}].felt.at(at); !math.IsNaN(c) {
			z.trend.Observe(at, c, true)
		}
	}
}

// worst is the highest or lowest fresh temperature of a zone, and its probe;
// nil when no probe is fresh. A probe that disagrees with its neighbours counts:
// it may be the one that is beside the trouble, and an alarm too many does less
// harm than one too few.
func (z *zone) worst(at time.Time, fresh time.Duration, of func(*probe) float64, high bool) (v float64, who *probe) {
	v = math.NaN()
	for _, p := range z.eyes() {
		x := of(p)
		if p.good.IsZero() || at.Sub(p.good) > fresh || math.IsNaN(x) {
			continue
		}
		if who == nil || (high && x > v) || (!high && x < v) {
			v, who = x, p
		}
	}
	return v, who
}

// eyes are all probes that a zone is watched by.
func (z *zone) eyes() []*probe { return slices.Concat(z.probes, z.boxed) }

// only reports whether a probe is all that its zone is watched by.
func (z *zone) only(p *probe) bool { return len(z.probes) == 1 && z.probes[0] == p }

// openEyes gives each zone the probes of its boxes that no zone lists: where eggs have
// a probe of their own, somebody is called by it.
func (s *Station) openEyes() {
	listed := map[string]bool{}
	for _, z := range s.zones {
		z.boxed = nil
		for _, p := range z.probes {
			listed[p.name] = true
		}
	}
	for _, g := range s.groups() {
		z, p := s.zoneOf(g.zone), s.probes[g.probe]
		if g.waiting && z != nil && p != nil && !listed[p.name] && !slices.Contains(z.boxed, p) {
			z.boxed = append(z.boxed, p)
		}
	}
}

func celsius(p *probe) float64  { return p.celsius }
func humidity(p *probe) float64 { return p.humidity }

// shift moves what the station remembers of this boot, when the boot is dated
// anew.
func (s *Station) shift(by time.Duration) {
	for _, p := range s.probes {
		p.good, p.tried, p.answered = moved(p.good, by), moved(p.tried, by), moved(p.answered, by)
	}
	for _, x := range s.sources {
		for i := range x.felt.last {
			x.felt.last[i].At = moved(x.felt.last[i].At, by)
		}
		x.spread.Get().at = moved(x.spread.Get().at, by)
		x.almanac.Get().last.At = moved(x.almanac.Get().last.At, by)
	}
	for _, z := range s.zones {
		z.trend = alert.Trend{}
	}
}

func moved(t time.Time, by time.Duration) time.Time {
	if t.IsZero() {
		return t
	}
	return t.Add(by)
}

// Refused is how many readings each cause took, over all probes.
func (s *Station) Refused() map[string]int {
	total := map[string]int{}
	for _, p := range s.probes {
		for _, c := range slices.Sorted(maps.Keys(p.errors)) {
			if c != Disagrees { // it is believed; only the zone's middle leaves it out
				total[string(c)] += p.errors[c]
			}
		}
	}
	return total
}
