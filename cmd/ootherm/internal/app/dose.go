package app

import (
	"math"
	"time"

	"example.com/ootherm/alert"
)

// doses are how long a probe was beyond the limits of its zone, at either end.
type doses struct {
	plan Dose
	low  alert.Dose
	high alert.Dose
}

func newDoses(p Dose) *doses {
	d := &doses{plan: p}
	if p.Low != nil {
		d.low = alert.Dose{At: *p.Low}
	}
	if p.High != nil {
		d.high = alert.Dose{High: true, At: *p.High}
	}
	return d
}

// observe takes a temperature.
func (d *doses) observe(at time.Time, c float64) {
	if d.plan.Low != nil {
		d.low = d.low.Observe(at, c, !math.IsNaN(c))
	}
	if d.plan.High != nil {
		d.high = d.high.Observe(at, c, !math.IsNaN(c))
	}
}

// longest is the longer of the excursions that go on.
func (d *doses) longest() time.Duration { return max(d.low.Present(), d.high.Present()) }

// total is the longer of all excursions together.
func (d *doses) total() time.Duration { return max(d.low.Total, d.high.Total) }

func exposed(zone string, kind alert.Kind) alert.Key {
	return alert.Key{Kind: kind, Priority: alert.Critical, Zone: zone}
}

// doseLimits adds the alarms of exposure beyond a limit: of one stay, and of all
// together since the first of the eggs that wait in the zone was placed there, or
// without eggs over the last two weeks before the start.
func (s *Station) doseLimits(want map[alert.Key]alert.Limit) {
	for _, z := range s.zones {
		for kind, p := range map[alert.Kind]*Dose{alert.SingleEvent: z.plan.Single, alert.Cumulative: z.plan.Total} {
			if p == nil {
				continue
			}
			k := exposed(z.plan.Name, kind)
			want[k] = alert.Limit{High: true, At: p.For.Seconds(), ReAlarm: reAlarmWarning}
			from, had := s.now.Add(-driftMemory), s.doses[k] != nil
			if first := s.placed(z.plan.Name); kind == alert.Cumulative && !first.IsZero() {
				from, had = first, had && s.doses[k].from.Equal(first)
			}
			if had {
				continue
			}
			d := &dosing{plan: *p, from: from, by: map[string]*doses{}}
			s.doses[k] = d
			for _, x := range z.probes {
				s.redose(x.name, d)
			}
		}
	}
}

// dosing is the exposure of each probe behind one alarm, and since when it counts.
type dosing struct {
	plan Dose
	from time.Time
	by   map[string]*doses
}

// worst is the most of any probe, and whose that is.
func (d *dosing) worst(of func(*doses) time.Duration) (most time.Duration, probe string) {
	for name, x := range d.by {
		if v := of(x); v > most || v == most && (probe == "" || name < probe) {
			most, probe = v, name
		}
	}
	return most, probe
}

// placed is when the first of the eggs that wait in a zone was placed there; zero
// when none do.
func (s *Station) placed(zone string) time.Time {
	var first time.Time
	for _, g := range s.groups() {
		if !g.waiting || g.zone != zone {
			continue
		}
		from := g.stays[len(g.stays)-1].From
		if first.IsZero() || from.Before(first) {
			first = from
		}
	}
	return first
}

// redose reckons a probe's exposure from the history, in the worker.
func (s *Station) redose(probe string, d *dosing) {
	r, upTo, from := s.reckoner(), s.now, d.from
	d.by[probe] = newDoses(d.plan)
	s.o.Worker(func() func() {
		fresh := newDoses(d.plan)
		for x, err := range r.samples(source{probe: probe}, from, upTo.Add(1)) {
			if err != nil {
				return func() { s.failed = err }
			}
			fresh.observe(x.At, x.Celsius)
		}
		return func() { d.by[probe] = fresh }
	})
}

// watchDose shows the alarms of exposure how long it was.
func (s *Station) watchDose(z *zone, fresh time.Duration) {
	if z.plan.Single == nil && z.plan.Total == nil {
		return
	}
	for kind, of := range map[alert.Kind]func(*doses) time.Duration{alert.SingleEvent: (*doses).longest, alert.Cumulative: (*doses).total} {
		k := exposed(z.plan.Name, kind)
		d := s.doses[k]
		if d == nil {
			continue
		}
		known := false
		for _, p := range z.probes {
			c := math.NaN()
			if !p.good.IsZero() && s.now.Sub(p.good) <= fresh {
				c, known = p.celsius, true
			}
			d.by[p.name].observe(s.now, c)
		}
		most, who := d.worst(of)
		s.observe(k, most.Seconds(), known, who)
	}
}
