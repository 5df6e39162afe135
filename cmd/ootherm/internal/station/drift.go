package station

import (
	"errors"
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/sensor/zone"
)

// driftMemory is how far back a drift is fed after a start: as far as it
// remembers.
const driftMemory = 14 * 24 * time.Hour

// driftOver is how long a drift must be called no more before its alarm ends: the
// cycle of a thermostat may touch the limit and come back (our choice).
const driftOver = 30 * time.Minute

// driftEnd watches one end of a zone's band for what is on its way: the wanted
// band, or the safe one where there is no other. Each probe has a drift of its
// own, for one that goes silent would else look like a change.
type driftEnd struct {
	limit  alert.Limit
	by     map[string]*probeDrift // by probe
	fed    map[string]time.Time
	coming alert.Projection // the first of what is foretold
	probe  string           // whose that is; empty: nothing is foretold
}

// probeDrift is the drift of one probe, taught what was measured before by the worker.
type probeDrift = rebuild.Value[*alert.Drift, driftSample]

// driftSample is a temperature in C of one probe.
type driftSample struct {
	at      time.Time
	celsius float64
	known   bool
}

func newProbeDrift(l alert.Limit) *probeDrift {
	return rebuild.NewValue(alert.NewDrift(l), func(d *alert.Drift, x driftSample) { d.Observe(x.at, x.celsius, x.known) })
}

// drop ends what is still being taught.
func (e *driftEnd) drop() {
	for _, d := range e.by {
		d.Drop()
	}
}

// drifting names the drift alarm of one end.
func drifting(zone string, high bool) alert.Key {
	k := alert.Key{Kind: alert.DriftDown, Priority: alert.Warning, Zone: zone}
	if high {
		k.Kind = alert.DriftUp
	}
	return k
}

// driftLimits makes the drifts of each zone's band and adds their alarms. A band
// that is as it was keeps what was learned of it.
func (s *Station) driftLimits(want map[alert.Key]alert.Limit) {
	anew := map[*zoneState][]*driftEnd{}
	for _, z := range s.zones {
		b := s.wanted(z.plan)
		if b == nil {
			b = s.safe(z.plan)
		}
		for _, high := range [...]bool{false, true} {
			k := drifting(z.plan.Name, high)
			if b == nil || high && b.High == nil || !high && b.Low == nil {
				if e := s.drifts[k]; e != nil {
					e.drop()
				}
				delete(s.drifts, k)
				continue
			}
			l := bandForRules(b).Limit(high, 0)
			want[k] = alert.Limit{High: l.High, At: l.At, OffDelay: driftOver} // the band's own alarm calls again
			if e := s.drifts[k]; e != nil && e.limit == l {
				continue
			}
			if old := s.drifts[k]; old != nil {
				old.drop()
			}
			e := &driftEnd{limit: l, by: map[string]*probeDrift{}, fed: map[string]time.Time{}}
			for _, p := range z.probes {
				e.by[p.Name] = newProbeDrift(l)
			}
			s.drifts[k] = e
			anew[z] = append(anew[z], e)
		}
	}
	s.learn(anew)
}

// relearnDrifts teaches every drift again, when the past is dated again.
func (s *Station) relearnDrifts() {
	all := map[*zoneState][]*driftEnd{}
	for _, z := range s.zones {
		for _, high := range [...]bool{false, true} {
			if e := s.drifts[drifting(z.plan.Name, high)]; e != nil {
				all[z] = append(all[z], e)
			}
		}
	}
	s.learn(all)
}

// learn has the worker show drifts what was measured before. What cannot be read is a
// hole for them.
func (s *Station) learn(ends map[*zoneState][]*driftEnd) {
	for z, all := range ends {
		for _, p := range z.probes {
			name := p.Name
			values := make([]*probeDrift, len(all))
			for i, e := range all {
				values[i] = e.by[name]
			}
			rebuild.Build(&s.rebuilds, func(upTo time.Time) func() ([]*alert.Drift, error) {
				r := s.historyReader()
				return func() ([]*alert.Drift, error) {
					taught := make([]*alert.Drift, len(all))
					for i, e := range all {
						taught[i] = alert.NewDrift(e.limit)
					}
					var failed []error
					for sample, err := range r.samples(sourceID{probe: name}, upTo.Add(-driftMemory), upTo.Add(1)) {
						if err != nil {
							failed = append(failed, err)
							continue
						}
						for _, d := range taught {
							d.Observe(sample.At, sample.Celsius, !math.IsNaN(sample.Celsius))
						}
					}
					return taught, errors.Join(failed...)
				}
			}, func() {}, values...)
		}
	}
}

// watchDrift shows a zone's drifts its readings, and their alarms what is
// foretold. The alarm of the band itself, once it is there, stands for both: a
// drift is hidden under it until it is over itself, and does not end because the
// limit was reached.
func (s *Station) watchDrift(z *zoneState) {
	for _, high := range [...]bool{false, true} {
		k := drifting(z.plan.Name, high)
		e := s.drifts[k]
		if e == nil {
			continue
		}
		e.look(s.now, z.probes)
		if x, _ := s.panel.Alarm(k); e.probe == "" && x.State == alert.Normal && !x.True && !x.Hidden && x.ShelvedUntil.IsZero() && len(x.Held) == 0 {
			continue // it has no delay and waits for nothing: most steps are this
		}
		worst, who := z.extreme(s.now, zone.Celsius, high)
		v, known := e.limit.At, true
		switch {
		case who == nil || e.limit.Beyond(worst):
			known = false // the band's own alarm speaks
		case e.probe != "":
		default:
			v = inside(worst, e.limit)
		}
		above := s.bandAlarm(z.plan.Name, high)
		if above && (e.probe != "" || s.panel.Stands(k)) {
			s.panel.Suppress(k, true)
		}
		x, _ := s.panel.Alarm(k)
		probe, held := e.probe, x.Held
		if probe != "" {
			held = map[string]float64{probe: s.probes[probe].Celsius}
		} else {
			probe = nameOf(who)
		}
		if s.panel.Hold(k, held, s.isSilent) && e.probe == "" { // the one that drifted went silent
			known = false
		}
		s.observe(k, v, known, probe)
		if !above && !s.panel.Stands(k) {
			s.panel.Suppress(k, false)
		}
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

// look feeds each drift what is new, and keeps what comes first.
func (e *driftEnd) look(now time.Time, probes []*zone.Probe) {
	e.coming, e.probe = alert.Projection{}, ""
	for _, p := range probes {
		d := e.by[p.Name]
		switch {
		case !p.Fresh(now):
			d.Observe(driftSample{now, math.NaN(), false})
		case p.LastBelieved.After(e.fed[p.Name]):
			d.Observe(driftSample{p.LastBelieved, p.Celsius, true})
			e.fed[p.Name] = p.LastBelieved
		}
		if c, called := d.Get().Projection(); called && (e.probe == "" || c.At.Before(e.coming.At)) {
			e.coming, e.probe = c, p.Name
		}
	}
}

// bandAlarm reports whether an alarm of a band's end stands.
func (s *Station) bandAlarm(zone string, high bool) bool {
	kind := alert.TemperatureLow
	if high {
		kind = alert.TemperatureHigh
	}
	for _, p := range [...]alert.Priority{alert.Warning, alert.Critical} {
		if s.panel.Stands(alert.Key{Kind: kind, Priority: p, Zone: zone}) {
			return true
		}
	}
	return false
}

// shiftDrift moves what was fed, when the boot is dated anew.
func (s *Station) shiftDrift(by time.Duration) {
	for _, e := range s.drifts {
		for p, at := range e.fed {
			e.fed[p] = at.Add(by)
		}
	}
	s.relearnDrifts()
}
