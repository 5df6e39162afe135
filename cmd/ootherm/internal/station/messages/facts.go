package messages

import (
	"math"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/conditions"
	"example.com/ootherm/cmd/ootherm/internal/station/published"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// facts are what a message can say of the station as it is.
func (m *Messages) facts(told []episode.Told) notice.Facts {
	c := m.o.Conditions
	f := notice.Facts{
		Now: m.o.Now(), Station: m.o.Plan.Name, URL: m.o.Plan.URL, Started: c.Started, Off: c.Off,
		Probes: map[string]notice.Probe{}, Buses: map[string][]string{}, Clutches: m.clutches(), Media: m.o.Care.Last().Media,
		OutOfService: m.outOfService(),
		Health:       notice.Health{FreeBytes: m.o.Rules.View.Health.Free, CopyTrouble: m.o.CopyTrouble(), Senders: m.failures(), Damages: m.damages()},
	}
	f.Heartbeat, _ = m.o.Heartbeat()
	for name, p := range c.Probes {
		f.Probes[name] = m.probe(p)
	}
	for _, z := range c.Zones {
		f.Zones = append(f.Zones, m.zone(z))
	}
	for _, b := range m.o.Rules.View.Buses {
		for _, p := range b.Probes {
			f.Buses[b.Name] = append(f.Buses[b.Name], p.Name)
		}
	}
	if err := m.o.Past.Rebuilds.Failing(); err != nil {
		f.ReadError = err.Error()
	}
	f.Alarms = m.alarms(told)
	for _, e := range told {
		if by := m.hatchMoved(e.Event); by != nil {
			x := f.Alarms[e.Key]
			x.HatchMoved = by
			f.Alarms[e.Key] = x
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

func (m *Messages) probe(p *zone.Probe) notice.Probe {
	x := notice.Probe{
		Name: p.Name, Celsius: p.Celsius, Fresh: p.Fresh(m.o.Now()),
		Heard: !p.LastBelieved.IsZero() || !p.Earlier.IsZero(),
	}
	if p.HumidityError != nil {
		x.HumidityCause = string(sensor.CauseOf(p.HumidityError))
	}
	r := m.o.Conditions.Responses[p.Name]
	x.HalfHourK, x.QuarterK = r.Change(m.o.Now(), 30*time.Minute), r.Change(m.o.Now(), 15*time.Minute)
	x.BeforeK = r.Change(p.LastBelieved, 30*time.Minute)
	const recent = 10 * time.Minute
	if k := r.Change(m.o.Now(), recent); !math.IsNaN(k) {
		k *= time.Hour.Hours() / recent.Hours()
		x.Recent = &k
	}
	if step, ok := r.Step(m.o.Now()); ok {
		x.Step = &step
	}
	for _, g := range m.o.Exposures.Groups() {
		if g.Waiting && g.Probe == p.Name {
			x.Box = g.Box
		}
	}
	return x
}

// cause adds to an alarm of a zone's temperature what the probes tell of it.
func (m *Messages) cause(k alert.Key, a *snapshot.Alarm) {
	z := m.o.Conditions.Zone(k.Zone)
	if z == nil {
		return
	}
	name := m.o.Panel.Probe(k)
	if _, drifts, ok := m.o.Rules.Coming(k); ok {
		name = drifts
	}
	probe := notice.Probe{}
	var others []notice.Probe
	for _, p := range slices.Concat(z.Probes, z.BoxProbes) {
		if p.Name == name {
			probe = m.probe(p)
		} else {
			others = append(others, m.probe(p))
		}
	}
	if probe.Name == "" {
		return
	}
	side := k.Kind.Side()
	a.First = notice.FirstWhereItJumped(side, probe)
	a.Detail = snapshot.OptText(strings.TrimSpace(notice.Stopped(side, m.o.Rules.Stopped(k)) + " " + notice.Cause(side, probe, others, m.reader())))
}

func (m *Messages) zone(z *conditions.Zone) notice.Zone {
	now := m.o.Now()
	x := notice.Zone{Name: z.Plan.Name, Probes: names(z.Probes), Boxed: names(z.BoxProbes), TrendKPerHour: z.Trend.PerHour(), RecentKPerHour: z.Trend.RecentPerHour(now), ApartK: z.Plan.Apart, WatchesHumidity: z.Plan.Humidity != nil}
	x.LearningUntil = m.o.Rules.LearningUntil(&m.o.Rules.View, z.Plan.Name)
	active := m.o.Rules.View.Zone(z.Plan.Name)
	if active.Wanted != nil {
		x.Banded, x.Low, x.High = true, active.Wanted.Low, active.Wanted.High
	}
	_, wet := z.Extreme(now, zone.Humidity, true)
	x.MeasuresHumidity = wet != nil
	high := x.TrendKPerHour > 0
	v, who := z.Extreme(now, zone.Celsius, high)
	if who == nil {
		return x
	}
	x.Extreme = &v
	for _, b := range [...]*rules.Band{active.Wanted, active.Safe} {
		if !b.Has(high) {
			continue
		}
		if p, ok := z.Trend.Extrapolate(now, v, b.Limit(high, 0)); ok {
			x.NextLimit = published.Coming(p)
			break
		}
	}
	return x
}

// clutches are all clutches by box.
func (m *Messages) clutches() (all []notice.Clutch) {
	for _, g := range m.o.Exposures.Groups() {
		x := notice.Clutch{
			Name: g.Clutch, Box: g.Box, Zone: g.Zone, Dams: g.Dams, Waiting: g.Waiting, Left: g.Left(), Window: m.o.Windows.Shown(g),
			State: string(m.o.Windows.State(g)),
		}
		for _, e := range g.Eggs {
			if track.Undecided(e) {
				x.Eggs = append(x.Eggs, e.ID)
			}
		}
		if last, ok := lastOf(m.o.Exposures.Groups(), g.Clutch); ok {
			x.Last, x.LastHatched = last.ID, last.Fate == book.Hatched
		}
		if h, ok := m.o.Windows.Hatch(g); ok {
			x.Developed = &h.Window.Developed
		}
		all = append(all, x)
	}
	return all
}

// lastOf is the last egg of a clutch that pipped or hatched.
func lastOf(groups []*track.Group, clutch string) (last book.Egg, ok bool) {
	for _, g := range groups {
		if g.Clutch != clutch {
			continue
		}
		for _, e := range g.Eggs {
			if (e.Fate == book.Pipped || e.Fate == book.Hatched) && (!ok || e.FateAt.After(last.FateAt)) {
				last, ok = e, true
			}
		}
	}
	return last, ok
}

func (m *Messages) outOfService() (all []notice.OutOfService) {
	for _, o := range m.o.Panel.AllOutOfService() {
		all = append(all, m.placeOutOfService(o))
	}
	return all
}

// placeOutOfService adds to what is out of service the worst value that the zone has now.
func (m *Messages) placeOutOfService(o panel.OutOfService) notice.OutOfService {
	x := notice.OutOfService{Zone: o.Zone, Since: o.Since, Keys: o.Keys, Whole: o.Whole}
	z := m.o.Conditions.Zone(o.Zone)
	if z == nil {
		return x
	}
	for _, p := range [...]alert.Priority{alert.Critical, alert.Warning} {
		for _, kind := range [...]alert.Kind{alert.TemperatureLow, alert.TemperatureHigh} {
			if x.Side == "" && m.o.Panel.Stands(alert.Key{Kind: kind, Priority: p, Zone: o.Zone}) {
				x.Side = kind
			}
		}
	}
	if _, past := rules.UnsafeLimit(m.o.Panel, o.Zone); past != nil {
		x.Side, x.Safe = past.Key.Kind, &past.Limit.At
	}
	if v, who := z.Extreme(m.o.Now(), zone.Celsius, x.Side == alert.TemperatureHigh); who != nil {
		x.Celsius = &v
	}
	x.Silent = x.Celsius == nil
	return x
}

// damages are the spans that cannot be read, the newest first.
func (m *Messages) damages() (all []notice.Damage) {
	for _, d := range m.o.Past.Damages() {
		all = append(all, notice.Damage{Probe: d.Probe, From: d.From, To: d.To})
	}
	return all
}

// failures are the senders whose last attempt failed.
func (m *Messages) failures() map[string]notice.Failure {
	all := map[string]notice.Failure{}
	for name, x := range m.o.Failures() {
		if x.Err != "" {
			all[name] = x
		}
	}
	return all
}

// alarms are those of the events, and of the same of another priority their state.
func (m *Messages) alarms(events []episode.Told) map[alert.Key]notice.Alarm {
	all := map[alert.Key]notice.Alarm{}
	for _, e := range events {
		all[e.Key] = m.alarm(e.Key)
	}
	for _, e := range events {
		for _, p := range [...]alert.Priority{alert.Critical, alert.Warning} {
			k := e.Key
			k.Priority = p
			x, ok := m.o.Panel.Alarm(k)
			if _, told := all[k]; ok && !told {
				all[k] = notice.Alarm{Alarm: x}
			}
		}
	}
	return all
}

// alarm is what the panel and the rules know of an alarm.
func (m *Messages) alarm(k alert.Key) notice.Alarm {
	p := m.o.Panel
	x := notice.Alarm{Zone: p.Zone(k), Probe: p.Probe(k), GoneWhy: p.Ended(k), SafeLimit: m.safeLimitComing(k)}
	x.Alarm, _ = p.Alarm(k)
	if side := k.Kind.Side(); side == alert.TooCold || side == alert.TooWarm {
		if level, ok := m.o.Rules.Level(k.Zone, side == alert.TooWarm); ok {
			x.Usual = &level.Usual
		}
	}
	if old, ok := p.RaisedBy(k); ok {
		x.RaisedBy = &old
	}
	if coming, probe, ok := m.o.Rules.Coming(k); ok {
		x.Drift, x.DriftProbe, x.Stopped = published.Coming(coming), probe, m.o.Rules.Stopped(k)
	}
	if c, ok := m.o.Rules.HumidityComing(k); ok {
		x.Humidity = &c
	}
	if over, ok := m.o.Rules.Exceeded(k); ok {
		x.Exceeded = (*notice.Exceeded)(&over)
	}
	return x
}

// safeLimitComing is when a zone passes the safe limit on the side of a warning; nil where
// that is not foretold, or it is passed.
func (m *Messages) safeLimitComing(k alert.Key) *snapshot.Coming {
	side := k.Kind.Side()
	if side != alert.TooCold && side != alert.TooWarm || k.Priority != alert.Warning || !m.o.Panel.Stands(k) {
		return nil
	}
	safe := alert.Key{Kind: side.Kind(), Priority: alert.Critical, Zone: k.Zone}
	p, ok := m.o.Rules.PassesSafe(m.o.Panel, k.Zone, side == alert.TooWarm)
	if !ok || m.o.Panel.Stands(safe) {
		return nil
	}
	return published.Coming(p)
}

// Publish adds to a published alarm what the rules know of it: what is coming, which eggs felt
// what, and whether the room or the probe is the trouble.
func (m *Messages) Publish(x alert.Alarm, a *snapshot.Alarm) {
	k := x.Key
	if side := k.Kind.Side(); x.True && (side == alert.TooCold || side == alert.TooWarm) {
		m.cause(k, a)
	}
	if c, ok := m.o.Rules.HumidityComing(k); ok {
		a.Detail = snapshot.OptText(notice.HumidityTrend(c, m.o.Now(), m.reader()))
	}
	switch {
	case k.Kind.IsDrift(): // what comes is the limit; what is, the value
		a.Value, a.Peak = nil, nil
		coming, probe, ok := m.o.Rules.Coming(k)
		if !ok {
			return
		}
		a.Value = snapshot.OptFloat(m.o.Conditions.Probes[probe].Celsius)
		if x.True && coming.At.After(m.o.Now()) {
			a.Coming = published.Coming(coming)
		}
	case k.Kind == alert.Drying:
		media := m.o.Care.Last().Media
		a.Detail = snapshot.OptText(notice.Dries(k, media, m.clutches(), m.o.Now(), m.reader()))
		a.First = notice.FirstWhereItDries(k, media[k.Box])
	case rules.IsExposure(k.Kind):
		if over, ok := m.o.Rules.Exceeded(k); ok {
			clutches := m.clutches()
			m.describe(a, func(r words.Reader) string {
				return words.Capital(notice.Exposure(k, notice.Exceeded(over), clutches, r))
			})
		}
	case k == rules.UnsafeOutOfService(k.Zone):
		out := m.placeOutOfService(m.o.Panel.OutOfService(k.Zone))
		m.describe(a, func(r words.Reader) string { return notice.UnsafeOutOfService(out, r, m.o.Now()) })
	default:
		a.Coming = m.safeLimitComing(k)
	}
}

// describe gives an alarm its detail, in the station's units and in both for the pages.
func (m *Messages) describe(a *snapshot.Alarm, detail func(words.Reader) string) {
	r := m.reader()
	a.Detail, a.DetailIn = snapshot.OptText(detail(r)), map[string]string{}
	for _, r.Units = range []words.Units{words.Celsius, words.Fahrenheit} {
		a.DetailIn[string(r.Units)] = detail(r)
	}
}
