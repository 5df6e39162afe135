package rules

import (
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/cycle"
	"example.com/ootherm/alert/panel"
)

// DriftMemory is how far back a drift is taught after a start: as far as it remembers.
const DriftMemory = 14 * 24 * time.Hour

// driftOffDelay is how long a drift must be called no more before its alarm ends: the cycle
// of a thermostat may touch the limit and come back (our choice).
const driftOffDelay = 30 * time.Minute

// drift watches both ends of each zone's bands for what is on its way: past the wanted limit,
// and past the safe one, which is watched from outside the wanted band too. Each probe has a
// drift of its own, for one that goes silent would else look like a change.
type drift struct {
	past  Past
	ends  map[zoneEnd]*driftEnd
	order []orderedEnd // the order of Show; made by Limits
}

// orderedEnd is an end of the zone with a number in the view.
type orderedEnd struct {
	zone int
	high bool
	*driftEnd
}

// zoneEnd is one end of a zone's bands.
type zoneEnd struct {
	zone string
	high bool
}

// driftEnd is what is known of one end.
type driftEnd struct {
	limits   []alert.Limit // the wanted one where it is passed first, then the safe one; at least one
	hasSafe  bool          // the last limit is the safe one
	byProbe  map[string]*probeDrift
	inOrder  []*probeDrift // what drifts returns; Limits clears it
	coming   []foretold    // the first of what is foretold, by limit
	relevant foretold      // of those, the one that the warning tells of
	urgent   foretold      // of the safe limit, while its time has not gone by
	jumped   bool          // the safe limit is foretold by probes alone that jumped and are level since
	holding  bool          // a drift that has a level is Holding
	ready    bool          // every drift is taught
	held     bool          // the warning was held in the last step
}

// probeDrift is the drift of one probe, nil before it is taught, and the time of the last reading
// that it was fed.
type probeDrift struct {
	Rebuilt[*cycle.Drift, Sample]
	fed     time.Time
	watches *cycle.Drift // that has the limits of the end; nil: none has
}

// Level is the level of a probe.
type Level struct {
	Probe string
	cycle.Level
}

// foretold is what a drift foretells of a limit.
type foretold struct {
	alert.Projection
	probe   string     // whose that is; empty: nothing is foretold
	stopped cycle.Stop // the thermostat's cycle, where it has stopped
}

// Drift is the alarm of a zone whose temperature is on its way past a limit: past the wanted
// one, or from outside the wanted band past the safe one.
func Drift(zone string, high bool) alert.Key {
	k := alert.Key{Kind: alert.DriftDown, Priority: alert.Warning, Zone: zone}
	if high {
		k.Kind = alert.DriftUp
	}
	return k
}

// UrgentDrift is the alarm of a zone that passes its safe limit soon.
func UrgentDrift(zone string, high bool) alert.Key {
	k := Drift(zone, high)
	k.Priority = alert.Critical
	return k
}

func (*drift) Kinds() []alert.Kind { return []alert.Kind{alert.DriftUp, alert.DriftDown} }

// Limits adds the drifts of each zone's bands. A band that changes keeps what was learned.
func (d *drift) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	d.order = d.order[:0]
	for i := range v.Zones {
		z := &v.Zones[i]
		for _, high := range [...]bool{false, true} {
			at := zoneEnd{z.Name, high}
			e := d.ends[at]
			watched, hasSafe := driftLimits(z, high)
			if len(watched) == 0 {
				e.drop()
				delete(d.ends, at)
				continue
			}
			if e == nil {
				e = &driftEnd{byProbe: map[string]*probeDrift{}}
				d.ends[at] = e
			}
			e.limits, e.hasSafe, e.coming, e.relevant = watched, hasSafe, make([]foretold, len(watched)), foretold{}
			e.urgent, e.inOrder = foretold{}, nil
			e.keep(z)
			// The bands' own alarms call again.
			d.order = append(d.order, orderedEnd{i, high, e})
			limits[Drift(z.Name, high)] = alert.Limit{High: high, At: watched[0].At, OffDelay: driftOffDelay}
			if hasSafe {
				limits[UrgentDrift(z.Name, high)] = alert.Limit{High: high, At: e.safe().At, OffDelay: driftOffDelay}
			}
		}
		d.teach(z)
	}
}

// driftLimits are the limits of one end of a zone's bands in the order in which they are
// passed, and whether the last is the safe one. A wanted limit that is passed after the safe
// one adds nothing.
func driftLimits(z *Zone, high bool) (limits []alert.Limit, hasSafe bool) {
	if z.Wanted.Has(high) {
		limits = append(limits, z.Wanted.Limit(high, 0))
	}
	if !z.Safe.Has(high) {
		return limits, false
	}
	safe := z.Safe.Limit(high, 0)
	if len(limits) > 0 && safe.Beyond(limits[0].At) {
		limits = limits[:0]
	}
	return append(limits, safe), true
}

// safe is the safe limit.
func (e *driftEnd) safe() alert.Limit { return e.limits[len(e.limits)-1] }

// teach has the drifts of a zone's probes that have learned nothing taught what was measured
// before.
func (d *drift) teach(z *Zone) {
	for i := range z.watchers() {
		name := z.watcher(i).Name
		var untaught []*driftEnd
		var limits [][]alert.Limit
		for _, high := range [...]bool{false, true} {
			if e := d.ends[zoneEnd{z.Name, high}]; e != nil && !e.taught(name) {
				untaught, limits = append(untaught, e), append(limits, e.limits)
			}
		}
		if len(untaught) == 0 {
			continue
		}
		for i, x := range d.past.Drifts(name, limits) {
			e := untaught[i]
			if e.byProbe[name] == nil {
				e.byProbe[name] = &probeDrift{}
			}
			e.byProbe[name].Rebuilt = x
		}
	}
}

// drifts are the drifts of a zone's probes, in their order.
func (e *driftEnd) drifts(z *Zone) []*probeDrift {
	for i := len(e.inOrder); i < z.watchers(); i++ {
		x := e.byProbe[z.watcher(i).Name]
		x.watches = nil // the limits may be others now
		e.inOrder = append(e.inOrder, x)
	}
	return e.inOrder
}

// taught reports whether the drift of a probe is taught, or being taught.
func (e *driftEnd) taught(probe string) bool {
	x := e.byProbe[probe]
	return x != nil && x.Rebuilt != nil
}

// keep drops the drifts of probes that watch the zone no more.
func (e *driftEnd) keep(z *Zone) {
	for name, x := range e.byProbe {
		if !z.watchedBy(name) {
			if x.Rebuilt != nil {
				x.Drop()
			}
			delete(e.byProbe, name)
		}
	}
}

// drop ends what is still being taught.
func (e *driftEnd) drop() {
	if e == nil {
		return
	}
	for _, x := range e.byProbe {
		if x.Rebuilt != nil {
			x.Drop()
		}
	}
}

// shift teaches every drift again, when the past is dated again.
func (d *drift) shift(v *View, by time.Duration) {
	for i := range v.Zones {
		z := &v.Zones[i]
		for _, high := range [...]bool{false, true} {
			e := d.ends[zoneEnd{z.Name, high}]
			if e == nil {
				continue
			}
			e.drop()
			for _, x := range e.byProbe {
				x.Rebuilt, x.fed = nil, x.fed.Add(by)
			}
		}
		d.teach(z)
	}
}

// Show shows a zone's drifts its readings, and their alarms what is foretold.
func (d *drift) Show(v *View, p *panel.Panel) {
	for _, e := range d.order {
		z := &v.Zones[e.zone]
		e.follow(v.Now, z)
		worst, who := z.worst(celsius, e.high)
		if e.urgent.At.Before(v.Now) { // a time that went by was wrong
			e.urgent = foretold{}
		}
		e.relevant = e.coming[0]
		if last := len(e.coming) - 1; who != nil && e.limits[0].Beyond(worst) || e.relevant.probe == "" {
			e.relevant = e.coming[last]
			if last > 0 {
				e.relevant = e.urgent
			}
		}
		if e.hasSafe {
			e.showUrgent(v, p, z, UrgentDrift(z.Name, e.high))
		}
		e.showWarning(v, p, z, Drift(z.Name, e.high))
	}
}

// follow feeds each drift what is new, and keeps what comes first.
func (e *driftEnd) follow(now time.Time, z *Zone) {
	clear(e.coming)
	e.holding, e.ready, e.urgent, e.jumped = false, true, foretold{}, false
	for i, d := range e.drifts(z) {
		p := z.watcher(i)
		if d.watches != d.Get() {
			d.watches = d.Get()
			d.watches.Watch(e.limits...)
		}
		if !z.Turn.At.IsZero() {
			d.Get().Expect(z.Turn.At, z.Turn.by(e.limits[0].High))
		}
		switch {
		case !p.Fresh:
			d.Observe(Sample{Probe: p.Name, At: now, Celsius: math.NaN()})
		case p.Good.After(d.fed):
			d.Observe(Sample{Probe: p.Name, At: p.Good, Celsius: p.Celsius})
			d.fed = p.Good
		}
		for i := 0; i < len(e.limits) && d.Get().Calls(); i++ {
			x := &e.coming[i]
			c, called := d.Get().Projection(i)
			if called && (x.probe == "" || c.At.Before(x.At)) {
				*x = foretold{c, p.Name, d.Get().Stopped()}
			}
			switch {
			case !called || !e.hasSafe || i < len(e.limits)-1 || d.Get().Regained(i, p.Celsius) || p.MayJump:
			case p.jumped(e.safe().High):
				e.jumped = true
			default:
				if c = p.hasten(now, c); e.urgent.probe == "" || c.At.Before(e.urgent.At) {
					e.urgent = foretold{c, p.Name, d.Get().Stopped()}
				}
			}
		}
		e.ready = e.ready && d.Ready()
		if p.Fresh && d.Get().Holding() {
			_, known := d.Get().Level(now, p.Celsius)
			e.holding = e.holding || known
		}
	}
}

// Coming is what the alarm of a drift foretells, and by which probe; false where it foretells
// nothing.
func (s *Set) Coming(k alert.Key) (alert.Projection, string, bool) {
	e := s.drift.ends[zoneEnd{k.Zone, k.Kind == alert.DriftUp}]
	switch {
	case e == nil || !k.Kind.IsDrift():
		return alert.Projection{}, "", false
	case k.Priority == alert.Critical:
		return s.SafeComing(k.Zone, k.Kind == alert.DriftUp)
	}
	return e.relevant.Projection, e.relevant.probe, e.relevant.probe != ""
}

// SafeComing is when a zone passes a safe limit by its drift, and by which probe; false where
// the drift foretells nothing of it, or the limit is passed.
func (s *Set) SafeComing(zone string, high bool) (alert.Projection, string, bool) {
	e := s.drift.ends[zoneEnd{zone, high}]
	if e == nil || !e.hasSafe {
		return alert.Projection{}, "", false
	}
	return e.urgent.Projection, e.urgent.probe, e.urgent.probe != ""
}

// Stopped is how the thermostat's cycle stopped that an alarm of a drift goes by; zero where it
// goes by none.
func (s *Set) Stopped(k alert.Key) cycle.Stop {
	e := s.drift.ends[zoneEnd{k.Zone, k.Kind == alert.DriftUp}]
	switch {
	case e == nil || !k.Kind.IsDrift():
		return cycle.Stop{}
	case k.Priority == alert.Critical:
		return e.urgent.stopped
	}
	return e.relevant.stopped
}

// Level is the level of the probe of a zone that is furthest from its usual on one side; false
// where no probe has a value and a day that is known.
func (s *Set) Level(v *View, zone string, high bool) (worst Level, known bool) {
	e, z := s.drift.ends[zoneEnd{zone, high}], v.Zone(zone)
	if e == nil || z == nil {
		return Level{}, false
	}
	for i, d := range e.drifts(z) {
		p := z.watcher(i)
		if x, ok := d.Get().Level(v.Now, p.Celsius); ok && p.Fresh && (!known || x.Past > worst.Past) {
			worst, known = Level{p.Name, x}, true
		}
	}
	worst.Holding = e.holding
	return worst, known
}

// LearningUntil is when the early warning of a zone begins, where none of its drifts has
// learned enough yet. It is zero where one has, where the zone has no band, and while what was
// measured before is still read.
func (s *Set) LearningUntil(v *View, zone string) (until time.Time) {
	z := v.Zone(zone)
	if z == nil {
		return time.Time{}
	}
	for _, e := range s.drift.ends {
		for i := range z.watchers() {
			x := e.byProbe[z.watcher(i).Name] // a probe watches one zone alone
			if x == nil || x.Rebuilt == nil {
				continue
			}
			if !x.Ready() || x.Get().Learned() {
				return time.Time{}
			}
			if at := x.Get().LearningUntil(v.Now); until.IsZero() || at.Before(until) {
				until = at
			}
		}
	}
	return until
}
