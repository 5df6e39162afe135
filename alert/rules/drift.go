package rules

import (
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// DriftMemory is how far back a drift is taught after a start: as far as it remembers.
const DriftMemory = 14 * 24 * time.Hour

// driftOffDelay is how long a drift must be called no more before its alarm ends: the cycle
// of a thermostat may touch the limit and come back (our choice).
const driftOffDelay = 30 * time.Minute

// drift watches both ends of each zone's band for what is on its way: of the wanted band, or
// of the safe one where there is no other. Each probe has a drift of its own, for one that
// goes silent would else look like a change.
type drift struct {
	past Past
	ends map[alert.Key]*driftEnd
}

// driftEnd is one end of a band.
type driftEnd struct {
	limit   alert.Limit
	byProbe map[string]Rebuilt[*alert.Drift, Sample]
	fed     map[string]time.Time
	coming  alert.Projection // the first of what is foretold
	probe   string           // whose that is; empty: nothing is foretold
}

// Drift is the alarm of a zone whose temperature is on its way past a limit.
func Drift(zone string, high bool) alert.Key {
	k := alert.Key{Kind: alert.DriftDown, Priority: alert.Warning, Zone: zone}
	if high {
		k.Kind = alert.DriftUp
	}
	return k
}

// IsDrift reports whether a kind is about what is on its way.
func IsDrift(k alert.Kind) bool { return k == alert.DriftUp || k == alert.DriftDown }

func (*drift) Kinds() []alert.Kind { return []alert.Kind{alert.DriftUp, alert.DriftDown} }

// Limits adds the drifts of each zone's band. A band that is as it was keeps what was learned
// of it.
func (d *drift) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for i := range v.Zones {
		z := &v.Zones[i]
		b := z.Wanted
		if b == nil {
			b = z.Safe
		}
		var untaught []*driftEnd
		for _, high := range [...]bool{false, true} {
			k := Drift(z.Name, high)
			old := d.ends[k]
			if !b.Has(high) {
				old.drop()
				delete(d.ends, k)
				continue
			}
			l := b.Limit(high, 0)
			limits[k] = alert.Limit{High: high, At: l.At, OffDelay: driftOffDelay} // the band's own alarm calls again
			if old != nil && old.limit == l {
				continue
			}
			old.drop()
			e := &driftEnd{limit: l, byProbe: map[string]Rebuilt[*alert.Drift, Sample]{}, fed: map[string]time.Time{}}
			d.ends[k] = e
			untaught = append(untaught, e)
		}
		d.teach(z, untaught)
	}
}

// teach has the drifts of some ends of a zone taught what was measured before.
func (d *drift) teach(z *Zone, ends []*driftEnd) {
	if len(ends) == 0 {
		return
	}
	limits := make([]alert.Limit, len(ends))
	for i, e := range ends {
		limits[i] = e.limit
	}
	for _, p := range z.Probes {
		for i, x := range d.past.Drifts(p.Name, limits) {
			ends[i].byProbe[p.Name] = x
		}
	}
}

// shift teaches every drift again, when the past is dated again.
func (d *drift) shift(v *View, by time.Duration) {
	for i := range v.Zones {
		var ends []*driftEnd
		for _, high := range [...]bool{false, true} {
			e := d.ends[Drift(v.Zones[i].Name, high)]
			if e == nil {
				continue
			}
			e.drop()
			for p, at := range e.fed {
				e.fed[p] = at.Add(by)
			}
			ends = append(ends, e)
		}
		d.teach(&v.Zones[i], ends)
	}
}

// Show shows a zone's drifts its readings, and their alarms what is foretold. The alarm of the
// band itself, once it is there, stands for both: a drift is hidden under it until it is over
// itself, and does not end because the limit was reached.
func (d *drift) Show(v *View, p *panel.Panel) {
	for i := range v.Zones {
		for _, high := range [...]bool{false, true} {
			k := Drift(v.Zones[i].Name, high)
			if e := d.ends[k]; e != nil {
				e.follow(v.Now, v.Zones[i].Probes)
				e.show(v, p, &v.Zones[i], k, high)
			}
		}
	}
}

// follow feeds each drift what is new, and keeps what comes first.
func (e *driftEnd) follow(now time.Time, probes []*Probe) {
	e.coming, e.probe = alert.Projection{}, ""
	for _, p := range probes {
		d := e.byProbe[p.Name]
		switch {
		case !p.Fresh:
			d.Observe(Sample{Probe: p.Name, At: now, Celsius: math.NaN()})
		case p.Good.After(e.fed[p.Name]):
			d.Observe(Sample{Probe: p.Name, At: p.Good, Celsius: p.Celsius})
			e.fed[p.Name] = p.Good
		}
		if c, called := d.Get().Projection(); called && (e.probe == "" || c.At.Before(e.coming.At)) {
			e.coming, e.probe = c, p.Name
		}
	}
}

func (e *driftEnd) show(v *View, p *panel.Panel, z *Zone, k alert.Key, high bool) {
	x, _ := p.Alarm(k)
	if e.probe == "" && x.State == alert.Normal && !x.True && !x.Hidden && x.ShelvedUntil.IsZero() && len(x.Held) == 0 {
		return // it has no delay and waits for nothing: most steps are this
	}
	worst, who := z.worst(celsius, high)
	value, known := e.limit.At, true
	switch {
	case who == nil || e.limit.Beyond(worst):
		known = false // the band's own alarm speaks
	case e.probe == "":
		value = inside(worst, e.limit)
	}
	above := bandStands(p, z.Name, high)
	if above && (e.probe != "" || x.True) {
		p.Suppress(k, true)
	}
	probe, held := e.probe, x.Held
	if probe != "" {
		held = map[string]float64{probe: v.Probes[probe].Celsius}
	} else {
		probe = nameOf(who)
	}
	if p.Hold(k, held, z.silent) && e.probe == "" { // the one that drifted went silent
		known = false
	}
	p.Show(k, panel.Reading{Value: value, Known: known, Probe: probe})
	if !above && !p.Stands(k) {
		p.Suppress(k, false)
	}
}

// inside is a value that is not beyond a limit.
func inside(v float64, l alert.Limit) float64 {
	const hair = 0.01 // K
	if l.High {
		return min(v, l.At-hair)
	}
	return max(v, l.At+hair)
}

// bandStands reports whether an alarm of a band's end stands.
func bandStands(p *panel.Panel, zone string, high bool) bool {
	kind := alert.TemperatureLow
	if high {
		kind = alert.TemperatureHigh
	}
	return p.Stands(alert.Key{Kind: kind, Priority: alert.Warning, Zone: zone}) ||
		p.Stands(alert.Key{Kind: kind, Priority: alert.Critical, Zone: zone})
}

// drop ends what is still being taught.
func (e *driftEnd) drop() {
	if e == nil {
		return
	}
	for _, d := range e.byProbe {
		d.Drop()
	}
}

// Coming is what a drift foretells, and by which probe; false where it foretells nothing.
func (s *Set) Coming(k alert.Key) (alert.Projection, string, bool) {
	e := s.drift.ends[k]
	if e == nil || e.probe == "" {
		return alert.Projection{}, "", false
	}
	return e.coming, e.probe, true
}
