package rulesview

import (
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert/response"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/conditions"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/track"
)

// seenProbe is a probe of the view, and what it comes from.
type seenProbe struct {
	view     *rules.Probe
	probe    *zone.Probe
	response *response.Response
}

// rebuild makes the view, after the book or the bands in force changed.
func (r *Rules) rebuild(b book.Book, now time.Time) {
	p, v := r.o.Plan, &r.View
	r.o.Conditions.UpdateBoxProbes(r.o.Exposures.Groups())
	v.Book++
	v.Every = p.Every
	r.probes, r.losses = r.probes[:0], 0
	v.Probes = make(map[string]*rules.Probe, len(p.Probes))
	for _, x := range p.Probes {
		v.Probes[x.Name] = &rules.Probe{Name: x.Name, SilentAfter: p.SilentAfter(x.Name), Thermometer: p.Thermometer(x.Name)}
		r.probes = append(r.probes, seenProbe{v.Probes[x.Name], r.o.Conditions.Probes[x.Name], r.o.Conditions.Responses[x.Name]})
	}
	if r.bands == nil {
		for _, z := range p.Zones {
			r.bands = append(r.bands, newTurningBands(z, p, now))
		}
	}
	v.Zones = v.Zones[:0]
	for i, z := range r.o.Conditions.Zones {
		v.Zones = append(v.Zones, r.zone(z, r.bands[i], b, now))
	}
	v.Buses = busesOf(p.Probes, v.Probes)
	v.Boxes = v.Boxes[:0]
	for _, x := range b.Boxes() {
		if x.InUse {
			v.Boxes = append(v.Boxes, rules.Box{Name: x.ID, Zone: x.Zone, Eggs: len(x.Eggs) > 0, Stays: x.Stays, Histories: histories(b, x)})
		}
	}
	v.Forecast = time.Time{}
	h := &v.Health
	h.WatchesSpace, h.WatchesCopies, h.WatchesSenders = r.o.Free != nil, r.o.WatchesCopies, r.o.WatchesSenders
	h.WatchesHeartbeat = r.o.WatchesHeartbeat
	h.Senders = h.Senders[:0]
	for _, x := range p.Senders {
		h.Senders = append(h.Senders, rules.Sender{Name: x.Name, DailyReport: x.AllWell != nil})
	}
	r.Refresh(b, now)
}

func (r *Rules) zone(z *conditions.Zone, own *turningBands, b book.Book, now time.Time) rules.Zone {
	p, local, groups := z.Plan, r.o.Plan.Local(now), r.o.Exposures.Groups()
	safe := own.inForce(safeOwnBand)
	if p.Safe == nil {
		safe = safeBand(r.o.Plan, p, groups, local)
	}
	return rules.Zone{
		Name: p.Name, Wanted: bandForRules(own.inForce(wantedBand)), Safe: bandForRules(safe), Humidity: bandForRules(own.inForce(humidityBand)),
		AsksHumidity: p.Humidity != nil, Rate: p.Rate, Apart: p.Apart,
		Single: exposureLimit(p.Single), Total: exposureLimit(p.Total),
		Probes: inView(&r.View, z.Probes), Boxed: inView(&r.View, z.BoxProbes), Trend: &z.Trend,
		Eggs:  slices.ContainsFunc(groups, func(g *track.Group) bool { return g.Waiting && g.Zone == p.Name }),
		Since: sinceEggsLeft(b, p.Name, r.o.Conditions.Started),
	}
}

// inView are probes as the view has them.
func inView(v *rules.View, probes []*zone.Probe) []*rules.Probe {
	all := make([]*rules.Probe, len(probes))
	for i, p := range probes {
		all[i] = v.Probes[p.Name]
	}
	return all
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
				if stay.Zone == zone && stay.To.After(from) {
					from = stay.To
				}
			}
		}
	}
	stays := []book.Stay{{Zone: zone, From: from}}
	return rules.History{ID: track.Key(stays), Stays: stays}
}

// Refresh brings the view up to a step.
func (r *Rules) Refresh(b book.Book, now time.Time) {
	v, c := &r.View, r.o.Conditions
	v.Now, v.Started, v.Off = now, c.Started, c.Off
	for _, s := range r.probes {
		x, p := s.view, s.probe
		x.Celsius, x.Humidity, x.Good, x.Before = p.Celsius, p.Humidity, p.LastBelieved, p.Earlier
		x.Fresh = p.Fresh(now)
		x.Moist = p.MeasuresHumidity || p.HumidityError != nil
		step, _ := s.response.Step(now)
		x.StepKelvin, x.MayJump = step.Kelvin, s.response.MayJump(now)
		x.LatelyKelvin = s.response.Change(now, rules.Lately)
	}
	for i := range v.Zones {
		v.Zones[i].Turn = r.bands[i].turn
	}
	r.refreshBoxes(r.o.Care.Of(b, now).Media)
	if at := r.o.Windows.At(); v.Forecast.IsZero() || !v.Forecast.Equal(at) {
		v.Forecast = at
		r.refreshClutches()
	}
}

// refreshBoxes sets what boxes lost, where that was computed again.
func (r *Rules) refreshBoxes(media map[string]*snapshot.Medium) {
	if r.losses == r.o.Care.Updates() {
		return
	}
	r.losses = r.o.Care.Updates()
	for i := range r.View.Boxes {
		x := &r.View.Boxes[i]
		x.Lost, x.Foretold = nil, rules.Foretold{Times: math.NaN()}
		if m := media[x.Name]; m != nil {
			x.Lost = m.Lost
		}
		if loss, ok := r.o.Care.Box(x.Name); ok {
			x.Foretold = rules.Foretold(loss)
		}
	}
}

func (r *Rules) refreshClutches() {
	v := &r.View
	v.Clutches = v.Clutches[:0]
	for _, g := range r.o.Exposures.Groups() {
		if !g.Waiting {
			continue
		}
		if n := len(v.Clutches); n == 0 || v.Clutches[n-1].Name != g.Clutch || v.Clutches[n-1].Box != g.Box {
			v.Clutches = append(v.Clutches, rules.Clutch{Name: g.Clutch, Box: g.Box})
		}
		c, state := &v.Clutches[len(v.Clutches)-1], r.o.Windows.State(g)
		c.Known = c.Known || state != ""
		c.CheckDaily = c.CheckDaily || state == forecast.CheckDaily
		c.Hatching = c.Hatching || state == forecast.Hatching
		c.Late = c.Late || state == forecast.LateState
	}
}
