package station

import (
	"maps"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/zone"
)

// reader has messages say figures and times as the plan asks.
func (s *Station) reader() words.Reader {
	return words.Reader{Units: s.plan.Units, Place: s.plan.Location, Today: func() time.Time { return s.now }}
}

// facts are what a message can say of the station as it is. The forecast is computed first
// where an excursion ended: that moves the windows that all messages of the step give.
func (s *Station) facts(events []alert.Event) notice.Facts {
	moved := s.windowsMoved(events)
	f := notice.Facts{
		Now: s.now, Station: s.plan.Name, URL: s.plan.URL, Started: s.started, Off: s.off,
		Probes: map[string]notice.Probe{}, Buses: map[string][]string{}, Clutches: s.clutchFacts(), Media: s.care().medium,
		Alarms: map[alert.Key]notice.Alarm{}, OutOfService: s.outOfService(),
		FreeBytes: s.view.Health.Free, CopyTrouble: s.copyTrouble(), Senders: map[string]notice.Failure{}, Damages: s.damages(),
		AgreesWithinK: zone.AgreesWithin,
	}
	for name, p := range s.probes {
		f.Probes[name] = s.probeFacts(p)
	}
	for _, z := range s.zones {
		f.Zones = append(f.Zones, s.zoneFacts(z))
	}
	for _, b := range s.view.Buses {
		for _, p := range b.Probes {
			f.Buses[b.Name] = append(f.Buses[b.Name], p.Name)
		}
	}
	for name, x := range s.troubles() {
		if x.Err != "" {
			f.Senders[name] = notice.Failure(x)
		}
	}
	if err := s.rebuilds.Failing(); err != nil {
		f.ReadError = err.Error()
	}
	for _, e := range events {
		x := s.alarmFacts(e.Key)
		x.WindowsMoved = moved[e.Key]
		f.Alarms[e.Key] = x
	}
	for _, e := range events { // of another priority only the state is needed
		for _, p := range [...]alert.Priority{alert.Critical, alert.Warning} {
			k := e.Key
			k.Priority = p
			x, ok := s.panel.Alarm(k)
			if _, told := f.Alarms[k]; ok && !told {
				f.Alarms[k] = notice.Alarm{Alarm: x}
			}
		}
	}
	return f
}

func names(probes []*zone.Probe) (all []string) {
	for _, p := range probes {
		all = append(all, p.Name)
	}
	return all
}

func (s *Station) probeFacts(p *zone.Probe) notice.Probe {
	x := notice.Probe{
		Name: p.Name, Celsius: p.Celsius, Fresh: p.Fresh(s.now),
		Heard: !p.LastBelieved.IsZero() || !p.Earlier.IsZero(),
	}
	if p.HumidityError != nil {
		x.HumidityCause = string(sensor.CauseOf(p.HumidityError))
	}
	return x
}

func (s *Station) zoneFacts(z *zoneState) notice.Zone {
	x := notice.Zone{Name: z.plan.Name, Probes: names(z.probes), TrendKPerHour: z.trend.PerHour(), WatchesHumidity: z.plan.Humidity != nil}
	active := s.view.Zone(z.plan.Name)
	if active.Wanted != nil {
		x.Banded, x.Low, x.High = true, active.Wanted.Low, active.Wanted.High
	}
	_, wet := z.extreme(s.now, zone.Humidity, true)
	x.MeasuresHumidity = wet != nil
	high := x.TrendKPerHour > 0
	v, who := z.extreme(s.now, zone.Celsius, high)
	if who == nil {
		return x
	}
	x.Extreme = &v
	for _, b := range [...]*rules.Band{active.Wanted, active.Safe} {
		if !b.Has(high) {
			continue
		}
		if p, ok := z.trend.Extrapolate(s.now, v, b.Limit(high, 0)); ok {
			x.NextLimit = comingOf(p)
			break
		}
	}
	return x
}

// clutchFacts are all clutches by box.
func (s *Station) clutchFacts() (all []notice.Clutch) {
	for _, g := range s.groups() {
		x := notice.Clutch{Name: g.Clutch, Box: g.Box, Zone: g.Zone, Dams: g.Dams, Waiting: g.Waiting, Left: g.Left(), Window: s.shownWindow(g)}
		if h, ok := s.hatch(g); ok {
			x.Developed = &h.Window.Developed
		}
		all = append(all, x)
	}
	return all
}

// alarmFacts are what the panel and the rules know of an alarm.
func (s *Station) alarmFacts(k alert.Key) notice.Alarm {
	x := notice.Alarm{Zone: s.panel.Zone(k), Probe: s.panel.Probe(k), GoneWhy: s.panel.Ended(k), SafeLimit: s.safeLimitComing(k)}
	x.Alarm, _ = s.panel.Alarm(k)
	if old, ok := s.panel.RaisedBy(k); ok {
		x.RaisedBy = &old
	}
	if coming, probe, ok := s.rules.Coming(k); ok {
		x.Drift, x.DriftProbe = comingOf(coming), probe
	}
	if over, ok := s.rules.Exceeded(k); ok {
		x.Exceeded = (*notice.Exceeded)(&over)
	}
	return x
}

// exposureText is what the page says of an exposure alarm; empty where nothing is known.
func (s *Station) exposureText(k alert.Key) string {
	x, ok := s.rules.Exceeded(k)
	if !ok {
		return ""
	}
	return words.Capital(notice.Exposure(k, notice.Exceeded(x), s.clutchFacts(), s.reader()))
}

func (s *Station) outOfService() (all []notice.OutOfService) {
	for _, o := range s.panel.AllOutOfService() {
		all = append(all, notice.OutOfService(o))
	}
	return all
}

// damages are the spans that cannot be read, the newest first.
func (s *Station) damages() (all []notice.Damage) {
	for _, d := range slices.SortedFunc(maps.Values(s.readErrors.damaged), func(a, b *history.Damage) int { return b.From.Compare(a.From) }) {
		all = append(all, notice.Damage{Probe: d.Probe, From: d.From, To: d.To})
	}
	return all
}

// troubles are what the senders' last attempts came to.
func (s *Station) troubles() map[string]Undelivered {
	if s.o.Troubles == nil {
		return nil
	}
	return s.o.Troubles()
}

// comingOf is a projection as it is published.
func comingOf(p alert.Projection) *snapshot.Coming {
	c := &snapshot.Coming{Limit: p.Limit, About: p.At, Earliest: p.Earliest}
	if !p.Latest.IsZero() {
		c.Latest = &p.Latest
	}
	return c
}

// safeLimitComing is when a zone that has left its wanted band passes the safe limit, where
// the trend says so; nil otherwise.
func (s *Station) safeLimitComing(k alert.Key) *snapshot.Coming {
	if k.Priority != alert.Warning || k.Kind != alert.TemperatureLow && k.Kind != alert.TemperatureHigh {
		return nil
	}
	safe, z := k, s.zoneOf(k.Zone)
	safe.Priority = alert.Critical
	x, ok := s.panel.Alarm(safe)
	if !ok || z == nil || x.True || !s.panel.Stands(k) {
		return nil
	}
	v, who := z.extreme(s.now, zone.Celsius, k.Kind == alert.TemperatureHigh)
	if who == nil {
		return nil
	}
	p, ok := z.trend.Extrapolate(s.now, v, x.Limit)
	if !ok {
		return nil
	}
	return comingOf(p)
}
