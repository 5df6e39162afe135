package station

import (
	"cmp"
	"context"
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/sensor/air"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal/book"
)

// publish makes the station's state readable as of now.
func (s *Station) publish() {
	s.updateForecast()
	if last := s.Published.Load(); last != nil && s.o.PublishEvery > 0 && s.now.Sub(s.sent) < s.o.PublishEvery {
		return
	}
	s.Publish()
}

// Publish makes the station's state readable as of now, however lately that was
// done.
func (s *Station) Publish() {
	n := &snapshot.Snapshot{
		At: s.now,
		Station: snapshot.Station{
			Name: s.plan.Name, Version: s.o.Version, Clock: "unverified",
			UptimeSeconds: s.now.Sub(s.started).Seconds(),
		},
		Zones: []snapshot.Zone{}, Boxes: s.boxes(), Unplaced: s.unplaced(), Dams: s.care().dams, Alarms: []snapshot.Alarm{},
		Health: snapshot.Health{
			Flushed: s.flushed(), FlushFailing: s.flushes.failing,
			StorageBytes: s.bytes(), Polled: s.polled(), Silent: s.silentBuses(), Copies: s.copies(),
		},
	}
	if waiting, err := s.o.Journal.Waiting(context.Background()); err == nil {
		for _, m := range waiting {
			n.Health.Waiting++
			if at := m.At; n.Health.OldestWaiting == nil || at.Before(*n.Health.OldestWaiting) {
				n.Health.OldestWaiting = &at
			}
		}
	}
	if s.boot.Synchronised {
		n.Station.Clock = "synchronised"
	}
	for _, z := range s.zones {
		n.Zones = append(n.Zones, s.zone(z))
	}
	for _, k := range s.panel.Keys() {
		x, _ := s.panel.Alarm(k)
		id := snapshot.AlarmID{Key: k.String(), Alarm: string(k.Kind), Zone: s.panel.Zone(k), Probe: k.Probe, Priority: string(k.Priority)}
		if k.Kind != alert.AllWell {
			n.Known = append(n.Known, id)
		}
		if x.State != alert.Normal {
			n.Alarms = append(n.Alarms, s.alarm(x))
		}
	}
	b := s.book
	s.folded.Store(&b)
	s.Published.Store(n)
	s.sent = s.now
}

func (s *Station) alarm(x alert.Alarm) snapshot.Alarm {
	a := snapshot.Alarm{
		Key: x.Key.String(), Alarm: string(x.Key.Kind), Zone: snapshot.OptText(s.panel.Zone(x.Key)), Box: snapshot.OptText(x.Key.Box), Probe: snapshot.OptText(x.Key.Probe),
		Clutch: snapshot.OptText(x.Key.Clutch), Part: snapshot.OptText(x.Key.Part),
		Priority: string(x.Key.Priority), State: string(x.State), Since: x.Began,
		Value: snapshot.OptFloat(x.Value), Limit: snapshot.OptFloat(x.Limit.At), Peak: snapshot.OptFloat(x.Peak),
	}
	if a.Since.IsZero() {
		a.Since = x.Since
	}
	switch {
	case x.Key.Kind == alert.SwitchedOff && x.True:
		a.Since = s.panel.OutOfService(x.Key.Zone).Since
	case rules.IsSilence(x.Key.Kind) && x.True: // what went before a start counts
		a.Value = snapshot.OptFloat(s.now.Sub(x.Began).Seconds())
	case x.Out && !x.True:
		a.Since = x.Changed
	}
	if a.Probe == nil {
		a.Probe = snapshot.OptText(s.panel.Probe(x.Key))
	}
	a.Unit = snapshot.OptText(string(x.Key.Kind.Unit()))
	a.Stands, a.Seen = x.True, x.Acked
	if x.Key.Kind.Unit() == alert.None {
		a.Value, a.Limit, a.Peak = nil, nil, nil
	}
	if rules.IsDrift(x.Key.Kind) { // what comes is the limit; what is, the value
		a.Value, a.Peak = nil, nil
		if coming, probe, ok := s.rules.Coming(x.Key); ok {
			a.Value = snapshot.OptFloat(s.probes[probe].Celsius)
			if x.True && coming.At.After(s.now) {
				a.Coming = comingOf(coming)
			}
		}
	} else {
		a.Coming = s.safeLimitComing(x.Key)
	}
	if rules.IsExposure(x.Key.Kind) {
		a.Detail = snapshot.OptText(s.exposureText(x.Key))
	}
	if x.State == alert.Shelved {
		a.Until = &x.ShelvedUntil
	}
	return a
}

func (s *Station) zone(z *zoneState) snapshot.Zone {
	src := s.sources[sourceID{zone: z.plan.Name}]
	c := src.zone.At(s.now).Celsius
	active := s.view.Zone(z.plan.Name)
	n := snapshot.Zone{
		Zone: z.plan.Name, Kind: z.plan.Kind, Celsius: snapshot.OptFloat(c), TrendPerHour: snapshot.OptFloat(z.trend.PerHour()),
		SetPoint: z.plan.SetPoint, Wanted: bandOf(active.Wanted), Safe: bandOf(active.Safe), Probes: []snapshot.Probe{},
	}
	if len(z.probes) > 1 && src.spread.Get().Known() {
		n.Spread = snapshot.OptFloat(src.spread.Get().Kelvin)
	}
	if b := active.Humidity; b != nil {
		n.HumidityBand = snapshot.Ratios{Low: b.Low, High: b.High}
	}
	var wet []float64
	for _, p := range z.probes {
		n.Probes = append(n.Probes, s.probe(p))
		if p.Fresh(s.now) && !math.IsNaN(p.Humidity) {
			wet = append(wet, p.Humidity)
		}
	}
	if len(wet) > 0 {
		slices.Sort(wet)
		h := zone.Median(wet)
		n.Humidity = snapshot.OptFloat(h)
		n.DewPoint = snapshot.OptFloat(air.DewPoint(c, h))
		n.Deficit, n.Vapour = snapshot.OptFloat(air.Deficit(c, h)), snapshot.OptFloat(air.Absolute(c, h))
	}
	return n
}

// probe publishes a probe. Only one whose status is ok has values.
func (s *Station) probe(p *zone.Probe) snapshot.Probe {
	n := snapshot.Probe{Probe: p.Name, Status: string(p.Status(s.now)), Errors: map[string]int{}}
	for c, k := range p.Errors {
		n.Errors[string(c)] = k
	}
	if p.Cause != "" {
		n.Cause = snapshot.OptText(string(p.Cause))
	}
	if !p.LastBelieved.IsZero() {
		last := p.LastBelieved
		n.LastGood, n.AgeSeconds = &last, snapshot.OptFloat(s.now.Sub(last).Seconds())
	}
	if p.Status(s.now) == zone.OK {
		n.Celsius, n.Humidity = snapshot.OptFloat(p.Celsius), snapshot.OptFloat(p.Humidity)
		n.Saturated = p.Saturated()
	}
	return n
}

// boxes are the boxes in use with their clutches. A clutch that is over stays
// until its box is emptied.
func (s *Station) boxes() []snapshot.Box {
	all := []snapshot.Box{}
	for _, b := range s.book.Boxes() {
		if !b.InUse {
			continue
		}
		n := snapshot.Box{Box: b.ID, Zone: b.Zone, Probe: snapshot.OptText(b.Probe), Offset: b.Offset, Medium: s.care().medium[b.ID], Clutches: []snapshot.Clutch{}}
		for _, g := range s.groups() {
			if g.Box != b.ID || !g.In(b) {
				continue
			}
			n.Condensing = n.Condensing || s.condensing(g.Stays)
			if c, ok := s.forecast.shown[g.ID()]; ok {
				n.Clutches = append(n.Clutches, c)
			} else {
				n.Clutches = append(n.Clutches, s.clutch(g))
			}
		}
		all = append(all, n)
	}
	return all
}

// dry is how long after a move a box has taken on the warmth of its new place (our
// choice).
const dry = 2 * time.Hour

// condensing reports whether a box came lately from a place that is colder than
// the dew point of the zone it is in.
func (s *Station) condensing(stays []book.Stay) bool {
	if len(stays) < 2 {
		return false
	}
	was, is := stays[len(stays)-2], stays[len(stays)-1]
	old, z := s.sources[sourceOf(was)], s.zoneOf(is.Zone)
	if was.Zone == is.Zone || !is.To.IsZero() || s.now.Sub(is.From) > dry || old == nil || z == nil {
		return false
	}
	surface := old.zone.At(s.now).Celsius
	dew := s.zone(z).DewPoint
	return dew != nil && surface+was.Offset < *dew
}

// flushed is when the readings were last made durable.
func (s *Station) flushed() *time.Time {
	if s.flushes.done.IsZero() {
		return nil
	}
	t := s.flushes.done
	return &t
}

// bytes is what the readings take, 0 when that is not known.
func (s *Station) bytes() int64 {
	size := s.o.Size
	if size == nil {
		size = s.o.History.Bytes
	}
	n, err := size()
	if err != nil {
		return 0
	}
	return n
}

// silentBuses are the buses none of whose probes gave any answer, good or bad, for
// three polls; a probe that shares its wire with none is a bus of its own.
func (s *Station) silentBuses() []string {
	heard := map[string]bool{}
	for _, p := range s.plan.Probes {
		bus := cmp.Or(p.Bus, p.Name)
		heard[bus] = heard[bus] || s.now.Sub(later(s.probes[p.Name].LastAnswered, s.started)) <= s.plan.Fresh()
	}
	silent := []string{}
	for _, bus := range slices.Sorted(maps.Keys(heard)) {
		if !heard[bus] {
			silent = append(silent, bus)
		}
	}
	return silent
}

// polled reports whether every probe was tried within three polls: one that
// fails is an alarm, one that is not even tried is a station that hangs.
func (s *Station) polled() bool {
	for _, p := range s.probes {
		if s.now.Sub(later(p.LastTried, s.started)) > s.plan.Fresh() {
			return false
		}
	}
	return true
}

func bandOf(b *rules.Band) snapshot.Band {
	if b == nil {
		return snapshot.Band{}
	}
	return snapshot.Band{Low: b.Low, High: b.High}
}
