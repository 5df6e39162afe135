package app

import (
	"cmp"
	"context"
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/app/now"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/air"
	"example.com/ootherm/thermal/book"
)

// publish makes the station's state readable as of now.
func (s *Station) publish() {
	s.reckon()
	if last := s.published.Load(); last != nil && s.o.PublishEvery > 0 && s.now.Sub(s.sent) < s.o.PublishEvery {
		return
	}
	s.Publish()
}

// Publish makes the station's state readable as of now, however lately that was
// done.
func (s *Station) Publish() {
	n := &now.Now{
		At: s.now,
		Station: now.Station{
			Name: s.plan.Name, Version: s.o.Version, Clock: "unverified",
			UptimeSeconds: s.now.Sub(s.started).Seconds(),
		},
		Zones: []now.Zone{}, Boxes: s.boxes(), Unplaced: s.unplaced(), Dams: s.care().dams, Alarms: []now.Alarm{},
		Health: now.Health{
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
	for _, k := range s.keys() {
		x := s.alarms.byKey[k]
		id := now.AlarmID{Key: k.String(), Alarm: string(k.Kind), Zone: s.zoneNamed(k), Probe: k.Probe, Priority: string(k.Priority)}
		if k.Kind != alert.AllWell {
			n.Known = append(n.Known, id)
		}
		if x.State != alert.Normal {
			n.Alarms = append(n.Alarms, s.alarm(x))
		}
	}
	b := s.book
	s.folded.Store(&b)
	s.published.Store(n)
	s.sent = s.now
}

func (s *Station) alarm(x alert.Alarm) now.Alarm {
	a := now.Alarm{
		Key: x.Key.String(), Alarm: string(x.Key.Kind), Zone: text(s.zoneNamed(x.Key)), Box: text(x.Key.Box), Probe: text(x.Key.Probe),
		Clutch: text(x.Key.Clutch), Part: text(x.Key.Part),
		Priority: string(x.Key.Priority), State: string(x.State), Since: x.Began,
		Value: number(x.Value), Limit: number(x.Limit.At), Peak: number(x.Peak),
	}
	if a.Since.IsZero() {
		a.Since = x.Since
	}
	switch {
	case x.Key.Kind == alert.SwitchedOff && x.True:
		a.Since = s.outOf(x.Key.Zone).since
	case isSilence(x.Key.Kind) && x.True: // what went before a start counts
		a.Value = number(s.now.Sub(x.Began).Seconds())
	case x.Out && !x.True:
		a.Since = x.Changed
	}
	if a.Probe == nil {
		a.Probe = text(s.alarms.probe[x.Key])
	}
	a.Unit = text(string(x.Key.Kind.Unit()))
	a.Stands, a.Seen = x.True, x.Acked
	if x.Key.Kind.Unit() == alert.None {
		a.Value, a.Limit, a.Peak = nil, nil, nil
	}
	if d := s.drifts[x.Key]; d != nil { // what comes is the limit; what is, the value
		a.Value, a.Peak = nil, nil
		if d.probe != "" {
			a.Value = number(s.probes[d.probe].celsius)
			if x.True && d.coming.At.After(s.now) {
				a.Coming = comingOf(d.coming)
			}
		}
	} else {
		a.Coming = s.beyond(x.Key)
	}
	if isExposure(x.Key.Kind) {
		a.Detail = text(sentence(s.exposure(x.Key)))
	}
	if x.State == alert.Shelved {
		a.Until = &x.ShelvedUntil
	}
	return a
}

func (s *Station) zone(z *zone) now.Zone {
	src := s.sources[source{zone: z.plan.Name}]
	c, _ := src.felt.at(s.now)
	n := now.Zone{
		Zone: z.plan.Name, Kind: z.plan.Kind, Celsius: number(c), TrendPerHour: number(z.trend.PerHour()),
		SetPoint: z.plan.SetPoint, Wanted: bandOf(s.wanted(z.plan)), Safe: bandOf(s.safe(z.plan)), Probes: []now.Probe{},
	}
	if len(z.probes) > 1 && !src.spread.at.IsZero() {
		n.Spread = number(src.spread.mean)
	}
	if b := s.humid(z.plan); b != nil {
		n.HumidityBand = now.Ratios{Low: b.Low, High: b.High}
	}
	var wet []float64
	for _, p := range z.probes {
		n.Probes = append(n.Probes, s.probe(p))
		if !p.good.IsZero() && s.now.Sub(p.good) <= s.plan.fresh() && !math.IsNaN(p.humidity) {
			wet = append(wet, p.humidity)
		}
	}
	if len(wet) > 0 {
		slices.Sort(wet)
		h := median(wet)
		n.Humidity = number(h)
		n.DewPoint = number(air.DewPoint(c, h))
		n.Deficit, n.Vapour = number(air.Deficit(c, h)), number(air.Absolute(c, h))
	}
	return n
}

// probe is ok, suspect (it answers and is not believed), stale (it does not
// answer, nor did for three polls) or missing (it never did).
func (s *Station) probe(p *probe) now.Probe {
	n := now.Probe{Probe: p.name, Status: "ok", Errors: map[string]int{}}
	for c, k := range p.errors {
		n.Errors[string(c)] = k
	}
	if p.cause != "" {
		n.Cause = text(string(p.cause))
	}
	if p.good.IsZero() {
		n.Status = "missing"
		if p.cause != "" && s.now.Sub(p.tried) <= s.plan.fresh() && answers(p.cause) {
			n.Status = "suspect"
		}
		return n
	}
	good, age := p.good, s.now.Sub(p.good)
	n.LastGood = &good
	n.AgeSeconds = number(age.Seconds())
	switch {
	case p.cause != "" && answers(p.cause) && s.now.Sub(p.tried) <= s.plan.fresh():
		n.Status = "suspect"
		return n
	case age > s.plan.fresh():
		n.Status = "stale"
		return n
	case p.cause != "":
		n.Status = "suspect"
		return n
	}
	n.Celsius, n.Humidity = number(p.celsius), number(p.humidity)
	n.Saturated = p.screen.Saturated()
	return n
}

// answers reports whether a probe that fails for this cause gave an answer.
func answers(c sensor.Cause) bool { return c != sensor.NoAnswer && c != sensor.BusGone }

// boxes are the boxes in use with their clutches. A clutch that is over stays
// until its box is emptied.
func (s *Station) boxes() []now.Box {
	all := []now.Box{}
	for _, b := range s.book.Boxes() {
		if !b.InUse {
			continue
		}
		n := now.Box{Box: b.ID, Zone: b.Zone, Probe: text(b.Probe), Offset: b.Offset, Medium: s.care().medium[b.ID], Clutches: []now.Clutch{}}
		for _, g := range s.groups() {
			if g.box != b.ID || !g.within(b) {
				continue
			}
			n.Condensing = n.Condensing || s.condensing(g.stays)
			if r, ok := s.windows[g.id()]; ok {
				n.Clutches = append(n.Clutches, r.shown)
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
	surface, _ := old.felt.at(s.now)
	dew := s.zone(z).DewPoint
	return dew != nil && surface+was.Offset < *dew
}

// within reports whether eggs of the group are in the box in its present use.
func (g *group) within(b book.Box) bool {
	for _, e := range g.eggs {
		if slices.Contains(b.Eggs, e.ID) || slices.Contains(b.Done, e.ID) {
			return true
		}
	}
	return false
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
		heard[bus] = heard[bus] || s.now.Sub(later(s.probes[p.Name].answered, s.started)) <= s.plan.fresh()
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
		if s.now.Sub(later(p.tried, s.started)) > s.plan.fresh() {
			return false
		}
	}
	return true
}

func bandOf(b *Band) now.Band {
	if b == nil {
		return now.Band{}
	}
	return now.Band{Low: b.Low, High: b.High}
}
