package station

import (
	"context"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// Why a limit went.
const (
	whyPlan = "since the configuration, the book or the band in force changed before this start"
	whyTurn = "since another band is in force by the hour or the season"
	whyBook = "since other eggs, or none, are there by the book"
)

// limits makes the alarms of the plan, and of what is in each zone just now. Why is what
// is to be said of those that stand and are wanted no more.
func (s *Station) limits(why string) {
	s.openEyes()
	want := map[alert.Key]alert.Limit{}
	for _, z := range s.zones {
		name := z.plan.Name
		ends := func(low, high alert.Kind, p alert.Priority, b *plan.Band, again time.Duration) {
			if b == nil {
				return
			}
			if b.Low != nil {
				want[alert.Key{Kind: low, Priority: p, Zone: name}] = limitOf(b, false, again)
			}
			if b.High != nil {
				want[alert.Key{Kind: high, Priority: p, Zone: name}] = limitOf(b, true, again)
			}
		}
		ends(alert.TemperatureLow, alert.TemperatureHigh, alert.Warning, s.wanted(z.plan), reAlarmWarning)
		ends(alert.TemperatureLow, alert.TemperatureHigh, alert.Critical, s.safe(z.plan), reAlarmCritical)
		ends(alert.HumidityLow, alert.HumidityHigh, alert.Warning, s.humid(z.plan), reAlarmWarning)
		for _, p := range z.eyes() {
			k, again := silence(name, p.name, z.only(p)), reAlarmWarning
			if k.Priority == alert.Critical {
				again = reAlarmCritical
			}
			want[k] = alert.Limit{High: true, At: s.plan.SilentAfter(p.name).Seconds(), OffDelay: time.Minute, ReAlarm: again}
		}
	}
	s.driftLimits(want)
	s.doseLimits(want)
	s.conditionLimits(want)
	s.dryLimits(want)
	s.offLimits(want)
	s.lackingLimits(want)
	s.panel.Step(s.now)
	s.panel.Want(want, s.placesNow(), why)
	s.record()
}

// How long an alarm that lasts is quiet before it calls again. The message says
// when; both figures are our choice.
const (
	reAlarmCritical = time.Hour
	reAlarmWarning  = 6 * time.Hour
)

// silence names the alarm of a probe that gives nothing. A zone's only probe is
// all its eyes.
func silence(zone, probe string, only bool) alert.Key {
	k := alert.Key{Kind: alert.ProbeSilent, Priority: alert.Warning, Zone: zone, Probe: probe}
	if only {
		k.Priority = alert.Critical
	}
	return k
}

func limitOf(b *plan.Band, high bool, again time.Duration) alert.Limit {
	l := alert.Limit{High: high, Deadband: b.Deadband, OnDelay: b.OnDelay, OffDelay: b.OffDelay, ReAlarm: again}
	if high {
		l.At = *b.High
	} else {
		l.At = *b.Low
	}
	return l
}

// safe is the zone's safe band: its own, or the strictest of the profiles whose
// eggs wait there.
func (s *Station) safe(z plan.Zone) *plan.Band {
	var kinds []string
	for _, g := range s.groups() {
		if g.waiting && g.zone == z.Name {
			kinds = append(kinds, g.profile)
		}
	}
	return s.plan.Safe(z, kinds).At(s.local())
}

// watch shows every alarm its value as it is now, and writes what changed.
func (s *Station) watch(ctx context.Context) error {
	if s.o.Visit {
		return nil
	}
	s.panel.Step(s.now)
	s.updateActiveBands()
	fresh := s.plan.Fresh()
	for _, z := range s.zones {
		name := z.plan.Name
		for _, w := range [...]struct {
			high, low alert.Kind
			of        func(*probe) float64
			p         []alert.Priority
		}{
			{alert.TemperatureHigh, alert.TemperatureLow, celsius, []alert.Priority{alert.Warning, alert.Critical}},
			{alert.HumidityHigh, alert.HumidityLow, humidity, []alert.Priority{alert.Warning}},
		} {
			hi, hot := z.worst(s.now, fresh, w.of, true)
			lo, cold := z.worst(s.now, fresh, w.of, false)
			for _, p := range w.p {
				high, low := alert.Key{Kind: w.high, Priority: p, Zone: name}, alert.Key{Kind: w.low, Priority: p, Zone: name}
				s.observe(high, hi, hot != nil && !s.panel.Latched(high, hi, s.speakers(z, w.of)), nameOf(hot))
				s.observe(low, lo, cold != nil && !s.panel.Latched(low, lo, s.speakers(z, w.of)), nameOf(cold))
			}
		}
		s.watchDrift(z, fresh)
		s.watchZone(z, fresh)
	}
	s.watchDoses(fresh)
	s.watchSilence()
	s.watchHumidity()
	s.watchWindows()
	s.watchMedium()
	s.watchOff()
	s.watchStation()
	s.watchHistory()
	s.watchDay()
	return s.commit(ctx)
}

func nameOf(p *probe) string {
	if p == nil {
		return ""
	}
	return p.name
}

// observe hands a value to an alarm, if there is such an alarm.
func (s *Station) observe(k alert.Key, v float64, known bool, probe string) {
	s.panel.Show(k, panel.Reading{Value: v, Known: known, Probe: probe})
}

// speakers are the probes that a zone's value is the worst of.
func (s *Station) speakers(z *zone, of func(*probe) float64) []panel.Source {
	var all []panel.Source
	for _, p := range z.eyes() {
		all = append(all, panel.Source{Name: p.name, Value: of(p), At: p.good, Silent: s.isSilent(p.name)})
	}
	return all
}

// isSilent reports whether a probe gives nothing now.
func (s *Station) isSilent(name string) bool {
	p := s.probes[name]
	return p != nil && (p.good.IsZero() || s.now.Sub(p.good) > s.plan.Fresh())
}

// placesNow are the zones, and where each box stands.
func (s *Station) placesNow() panel.Places {
	p := panel.Places{Boxes: map[string]string{}}
	for _, z := range s.zones {
		p.Zones = append(p.Zones, z.plan.Name)
	}
	for _, b := range s.book.Boxes() {
		p.Boxes[b.ID] = b.Zone
	}
	return p
}
