package station

import (
	"context"
	"maps"
	"slices"
	"time"

	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// askSpaceEvery is how often the room on the card is asked for.
const askSpaceEvery = time.Minute

// watch shows every alarm its value as it is now, and writes what changed.
func (s *Station) watch(ctx context.Context) error {
	if s.o.Visit {
		return nil
	}
	s.panel.Step(s.now)
	s.updateActiveBands()
	s.refreshView()
	s.refreshHealth()
	s.rules.Show(&s.view, s.panel)
	s.watchDay()
	return s.commit(ctx)
}

// limits makes the alarms of the plan, and of what is in each zone just now. Why is the
// reason told of those that stand and are no longer wanted.
func (s *Station) limits(why string) {
	s.rebuildView()
	s.panel.Step(s.now)
	s.panel.Want(s.rules.Limits(&s.view, s.panel), s.places(), why)
	s.record()
}

// places are the zones, and where each box stands.
func (s *Station) places() panel.Places {
	p := panel.Places{Boxes: map[string]string{}}
	for _, z := range s.zones {
		p.Zones = append(p.Zones, z.plan.Name)
	}
	for _, b := range s.book.Boxes() {
		p.Boxes[b.ID] = b.Zone
	}
	return p
}

// rebuildView makes the view of the rules, after the book or the bands in force changed.
func (s *Station) rebuildView() {
	s.openEyes()
	v := &s.view
	v.Book++
	v.Every = s.plan.Every
	v.Probes = make(map[string]*rules.Probe, len(s.probes))
	for name := range s.probes {
		v.Probes[name] = &rules.Probe{Name: name, SilentAfter: s.plan.SilentAfter(name), Thermometer: s.plan.Thermometer(name)}
	}
	v.Zones = v.Zones[:0]
	for _, z := range s.zones {
		active := activeBands(z.plan, s.local())
		v.Zones = append(v.Zones, rules.Zone{
			Name: z.plan.Name, Wanted: bandForRules(active[0]), Safe: bandForRules(safeBand(s.plan, z.plan, s.groups(), s.local())), Humidity: bandForRules(active[2]),
			AsksHumidity: z.plan.Humidity != nil, Rate: z.plan.Rate, Apart: z.plan.Apart,
			Single: exposureLimit(z.plan.Single), Total: exposureLimit(z.plan.Total),
			Probes: inView(v, z.probes), Boxed: inView(v, z.boxed), Since: sinceEggsLeft(s.book, z.plan.Name, s.started),
		})
	}
	for _, g := range s.groups() {
		for i := range v.Zones {
			v.Zones[i].Eggs = v.Zones[i].Eggs || g.Waiting && g.Zone == v.Zones[i].Name
		}
	}
	v.Buses = busesOf(s.plan.Probes, v.Probes)
	v.Boxes = v.Boxes[:0]
	for _, b := range s.book.Boxes() {
		if b.InUse {
			v.Boxes = append(v.Boxes, rules.Box{Name: b.ID, Zone: b.Zone, Eggs: len(b.Eggs) > 0, Stays: b.Stays, Histories: histories(s.book, b)})
		}
	}
	v.Forecast = time.Time{}
	v.Health.WatchesSpace, v.Health.WatchesCopies, v.Health.WatchesSenders = s.o.Free != nil, s.o.Copies != nil, s.o.Troubles != nil
	v.Health.Senders = v.Health.Senders[:0]
	for _, x := range s.plan.Senders {
		v.Health.Senders = append(v.Health.Senders, rules.Sender{Name: x.Name, DailyReport: x.AllWell != nil})
	}
	s.refreshView()
}

// inView are probes as the view has them.
func inView(v *rules.View, probes []*zone.Probe) []*rules.Probe {
	all := make([]*rules.Probe, len(probes))
	for i, p := range probes {
		all[i] = v.Probes[p.Name]
	}
	return all
}

func bandForRules(b *plan.Band) *rules.Band {
	if b == nil {
		return nil
	}
	return &rules.Band{Low: b.Low, High: b.High, Deadband: b.Deadband, OnDelay: b.OnDelay, OffDelay: b.OffDelay}
}

// busesOf are the buses with more than one probe, in order.
func busesOf(planned []plan.Probe, probes map[string]*rules.Probe) (buses []rules.Bus) {
	shared := map[string][]*rules.Probe{}
	for _, p := range planned {
		if p.Bus != "" {
			shared[p.Bus] = append(shared[p.Bus], probes[p.Name])
		}
	}
	for _, bus := range slices.Sorted(maps.Keys(shared)) {
		if len(shared[bus]) > 1 {
			buses = append(buses, rules.Bus{Name: bus, Probes: shared[bus]})
		}
	}
	return buses
}

// histories are the stays of the eggs in a box.
func histories(of book.Book, b book.Box) (all []rules.History) {
	for _, id := range b.Eggs {
		if e, ok := of.Egg(id); ok && len(e.Stays) > 0 {
			all = append(all, rules.History{ID: track.Key(e.Stays), Stays: e.Stays})
		}
	}
	return all
}

// sinceEggsLeft is a stay in a zone since the last of its eggs left, at most from two weeks
// before the start: what it was before was theirs.
func sinceEggsLeft(of book.Book, zone string, started time.Time) rules.History {
	from := started.Add(-rules.DriftMemory)
	for _, c := range of.Clutches() {
		for _, e := range c.Eggs {
			for _, stay := range e.Stays {
				if stay.Zone == zone {
					from = later(from, stay.To)
				}
			}
		}
	}
	stays := []book.Stay{{Zone: zone, From: from}}
	return rules.History{ID: track.Key(stays), Stays: stays}
}

func exposureLimit(d *plan.Dose) *rules.ExposureLimit {
	if d == nil {
		return nil
	}
	return &rules.ExposureLimit{Low: d.Low, High: d.High, For: d.For}
}

// refreshView brings the view up to this step.
func (s *Station) refreshView() {
	v := &s.view
	v.Now, v.Started, v.Off = s.now, s.started, s.off
	for name, x := range v.Probes {
		p := s.probes[name]
		x.Celsius, x.Humidity, x.Good, x.Before = p.Celsius, p.Humidity, p.LastBelieved, p.Earlier
		x.Fresh = p.Fresh(s.now)
		x.Moist = p.MeasuresHumidity || p.HumidityError != nil
	}
	for i, z := range s.zones {
		v.Zones[i].TrendKPerHour = z.trend.PerHour()
	}
	medium := s.care().medium
	for i := range v.Boxes {
		b := &v.Boxes[i]
		b.Lost = nil
		if m := medium[b.Name]; m != nil {
			b.Lost = m.Lost
		}
	}
	if v.Forecast.IsZero() || !v.Forecast.Equal(s.forecastAt()) {
		s.refreshClutches()
	}
}

func (s *Station) refreshClutches() {
	v := &s.view
	v.Forecast = s.forecastAt()
	v.Clutches = v.Clutches[:0]
	for _, g := range s.groups() {
		if !g.Waiting {
			continue
		}
		c := rules.Clutch{Name: g.Clutch, Box: g.Box}
		if r, ok := s.hatch(g); ok && r.Window.Exists() {
			c.Window = &rules.Window{CheckFrom: r.Window.CheckFrom, LateAfter: r.Window.LateAfter, Late: r.Window.Late}
		}
		v.Clutches = append(v.Clutches, c)
	}
}

func (s *Station) refreshHealth() {
	h := &s.view.Health
	h.StorageFailing, h.StorageKnown = s.flushes.failing || s.out.failing, !s.flushes.done.IsZero()
	h.Synchronised = s.boot.Synchronised
	if h.WatchesSpace && s.now.Sub(s.spaceAsked).Abs() >= askSpaceEvery {
		s.spaceAsked = s.now
		free, err := s.o.Free()
		h.Free, h.FreeKnown = free, err == nil
	}
	h.HistoryDamaged = len(s.readErrors.damaged) > 0 || s.rebuilds.Failing() != nil
	h.HistoryKnown = !s.rebuilds.Busy()
	h.CopyFailing = s.copyTrouble() != ""
	troubles := s.troubles()
	for i := range h.Senders {
		last, tried := troubles[h.Senders[i].Name]
		h.Senders[i].Tried, h.Senders[i].Failing = tried, last.Err != ""
	}
}
