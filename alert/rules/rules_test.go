package rules_test

import (
	"math"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/cycle"
	"example.com/ootherm/alert/daily"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/thermal/book"
)

var start = time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)

const poll = 10 * time.Second

// bench is a view, the rules that read it, and the panel that they show it to.
type bench struct {
	*testing.T
	v     rules.View
	set   *rules.Set
	panel *panel.Panel
	past  *past
}

// past is a history: the drifts and exposures that were asked for.
type past struct {
	drifts    []*value[*cycle.Drift]
	exposures []*value[*rules.Exposure]
	asked     []string // the probes whose drifts were asked for
}

// value is rebuilt when a test says so.
type value[T any] struct {
	of      T
	observe func(T, rules.Sample)
	ready   bool
	dropped bool
}

func (v *value[T]) Observe(x rules.Sample) { v.observe(v.of, x) }
func (v *value[T]) Get() T                 { return v.of }
func (v *value[T]) Ready() bool            { return v.ready }
func (v *value[T]) Drop()                  { v.dropped = true }

func (p *past) Drifts(probe string, ends [][]alert.Limit) (all []rules.Rebuilt[*cycle.Drift, rules.Sample]) {
	p.asked = append(p.asked, probe)
	for _, limits := range ends {
		v := &value[*cycle.Drift]{of: cycle.NewDrift(time.UTC, limits...), ready: true, observe: func(d *cycle.Drift, x rules.Sample) {
			d.Observe(x.At, x.Celsius, !math.IsNaN(x.Celsius))
		}}
		p.drifts = append(p.drifts, v)
		all = append(all, v)
	}
	return all
}

func (p *past) HumidityDays(string) rules.Rebuilt[*daily.Trend, rules.Sample] {
	return &value[*daily.Trend]{of: daily.New(time.UTC), ready: true, observe: func(d *daily.Trend, x rules.Sample) { d.Observe(x.At, x.Humidity) }}
}

func (p *past) Exposure(kind alert.Kind, limit rules.ExposureLimit, stays []book.Stay) rules.Rebuilt[*rules.Exposure, rules.Sample] {
	v := &value[*rules.Exposure]{of: rules.NewExposure(kind, limit), ready: true, observe: (*rules.Exposure).Observe}
	v.of.Move(p.Probes(stays[len(stays)-1]))
	p.exposures = append(p.exposures, v)
	return v
}

// Probes has the probes a and b in each zone.
func (p *past) Probes(stay book.Stay) []string {
	if stay.Probe != "" {
		return []string{stay.Probe}
	}
	return []string{"a", "b"}
}

// newBench has one zone "room" with the probes a and b, believed at start at 25 C and 80 %.
func newBench(t *testing.T) *bench {
	b := &bench{T: t, past: &past{}, panel: panel.New(nil, poll)}
	b.set = rules.New(b.past)
	b.v = rules.View{Now: start, Started: start, Every: poll, Probes: map[string]*rules.Probe{}}
	for _, name := range []string{"a", "b"} {
		b.v.Probes[name] = &rules.Probe{Name: name, Celsius: 25, Humidity: 0.8, Good: start, Fresh: true, SilentAfter: 10 * time.Minute}
	}
	b.v.Zones = []rules.Zone{{Name: "room", Trend: trend(math.NaN()), Probes: []*rules.Probe{b.v.Probes["a"], b.v.Probes["b"]}}}
	return b
}

// trend is a trend that has been the same for an hour, K an hour.
type trend float64

func (t trend) PerHour() float64                { return float64(t) }
func (t trend) RecentPerHour(time.Time) float64 { return float64(t) }
func (trend) Rebound(time.Time) (_, _ float64)  { return 0, 0 }

// room is the bench's zone.
func (b *bench) room() *rules.Zone { return &b.v.Zones[0] }

// limits sets the limits of the view as it is.
func (b *bench) limits() {
	b.panel.Step(b.v.Now)
	b.panel.Want(b.set.Limits(&b.v, b.panel), panel.Places{Zones: []string{"room"}}, "")
}

// at takes a step at a time after start, in which the fresh probes answer.
func (b *bench) at(after time.Duration) {
	b.v.Now = start.Add(after)
	for _, p := range b.v.Probes {
		if p.Fresh {
			p.Good = b.v.Now
		}
	}
	b.panel.Step(b.v.Now)
	b.set.Show(&b.v, b.panel)
}

// raisedAfter polls each minute and gives how long it took until an alarm was raised; 0 where
// it was not within a time.
func (b *bench) raisedAfter(k alert.Key, within time.Duration) time.Duration {
	b.Helper()
	if _, ok := b.panel.Alarm(k); !ok {
		b.Fatalf("%s is not watched", k)
	}
	from := b.v.Now.Sub(start)
	for d := time.Duration(0); d <= within; d += time.Minute {
		if b.at(from + d); b.panel.Stands(k) {
			return d
		}
	}
	return 0
}

// endsAfter is the same for its end.
func (b *bench) endsAfter(k alert.Key, within time.Duration) time.Duration {
	b.Helper()
	from := b.v.Now.Sub(start)
	for d := time.Duration(0); d <= within; d += time.Minute {
		if b.at(from + d); !b.panel.Stands(k) {
			return d
		}
	}
	return 0
}

func (b *bench) limit(k alert.Key) alert.Limit {
	b.Helper()
	x, ok := b.panel.Alarm(k)
	if !ok {
		b.Fatalf("%s is not watched", k)
	}
	return x.Limit
}

func check[T comparable](t *testing.T, what string, got, want T) {
	t.Helper()
	if got != want {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// Each kind of alarm has one rule. A kind without a rule would be declared and never raised.
func TestEveryKindHasOneRule(t *testing.T) {
	var watched []alert.Kind
	for _, r := range rules.New(nil).Rules() {
		watched = append(watched, r.Kinds()...)
	}
	all := append(alert.Kinds(), alert.AllWell)
	slices.Sort(watched)
	slices.Sort(all)
	if !slices.Equal(watched, all) {
		t.Errorf("the rules watch %q, the kinds are %q", watched, all)
	}
}

// full is a view in which every kind is watched.
func (b *bench) full() {
	low, high, share, dry, damp := 20.0, 30.0, 0.1, 0.5, 0.95
	stay := []book.Stay{{Zone: "room", Box: "B1", From: start.Add(-time.Hour)}}
	z := b.room()
	z.Wanted = &rules.Band{Low: &low, High: &high, Deadband: 0.3, OnDelay: 5 * time.Minute, OffDelay: 4 * time.Minute}
	z.Safe, z.AsksHumidity = z.Wanted, true
	z.Humidity = &rules.Band{Low: &dry, High: &damp, Deadband: 0.02, OnDelay: 30 * time.Minute, OffDelay: 20 * time.Minute}
	z.Rate, z.Apart = 3, 3
	z.Since = rules.History{ID: "empty", Stays: []book.Stay{{Zone: "room", From: start}}}
	z.Single, z.Total = &rules.ExposureLimit{High: &high, For: time.Hour}, &rules.ExposureLimit{High: &high, For: 2 * time.Hour}
	b.v.Buses = []rules.Bus{{Name: "i2c", Probes: z.Probes}}
	b.v.Boxes = []rules.Box{{Name: "B1", Zone: "room", Eggs: true, Lost: &share, Stays: stay, Histories: []rules.History{{ID: "1", Stays: stay}}}}
	b.v.Clutches = []rules.Clutch{{Name: "C1", Box: "B1"}}
	b.v.Health = rules.Health{
		WatchesSpace: true, WatchesCopies: true, WatchesSenders: true, WatchesHeartbeat: true, HeartbeatTried: true,
		StorageKnown: true, Synchronised: true, FreeKnown: true, Free: 1 << 30, HistoryKnown: true,
		Senders: []rules.Sender{{Name: "mail", DailyReport: true, Tried: true}},
	}
}

// Each alarm with its limit. The figures are written out: one that changes is a decision.
func TestLimits(t *testing.T) {
	b := newBench(t)
	b.full()
	b.limits()
	condition := func(on, off, again time.Duration) alert.Limit {
		return alert.Limit{High: true, At: 1, OnDelay: on, OffDelay: off, ReAlarm: again}
	}
	band := func(high bool, again time.Duration) alert.Limit {
		l := alert.Limit{High: high, At: 20, Deadband: 0.3, OnDelay: 5 * time.Minute, OffDelay: 4 * time.Minute, ReAlarm: again}
		if high {
			l.At = 30
		}
		return l
	}
	seconds := func(at, off, again time.Duration) alert.Limit {
		return alert.Limit{High: true, At: at.Seconds(), OffDelay: off, ReAlarm: again}
	}
	const day = 24 * time.Hour
	want := map[string]alert.Limit{
		"temperature-low.warning/room":           band(false, 6*time.Hour),
		"temperature-high.warning/room":          band(true, 6*time.Hour),
		"temperature-low.critical/room":          band(false, time.Hour),
		"temperature-high.critical/room":         band(true, time.Hour),
		"humidity-low.warning/room":              {At: 0.5, Deadband: 0.02, OnDelay: 30 * time.Minute, OffDelay: 20 * time.Minute, ReAlarm: 6 * time.Hour},
		"humidity-high.warning/room":             {High: true, At: 0.95, Deadband: 0.02, OnDelay: 30 * time.Minute, OffDelay: 20 * time.Minute, ReAlarm: 6 * time.Hour},
		"drift-down.warning/room":                {At: 20, OffDelay: 30 * time.Minute},
		"drift-up.warning/room":                  {High: true, At: 30, OffDelay: 30 * time.Minute},
		"drift-down.critical/room":               {At: 20, OffDelay: 30 * time.Minute},
		"drift-up.critical/room":                 {High: true, At: 30, OffDelay: 30 * time.Minute},
		"probes-disagree.warning/room":           {High: true, At: 3, Deadband: 0.5, OnDelay: time.Hour, OffDelay: 30 * time.Minute, ReAlarm: day},
		"rate-of-change.warning/room":            {High: true, At: 3, Deadband: 1, OnDelay: 10 * time.Minute, OffDelay: 30 * time.Minute, ReAlarm: 6 * time.Hour},
		"single-event.critical/box:B1":           seconds(time.Hour, 0, 6*time.Hour),
		"cumulative.critical/box:B1":             seconds(2*time.Hour, 0, 0),
		"probe-silent.warning/room/probe:a":      seconds(10*time.Minute, time.Minute, 6*time.Hour),
		"probe-silent.warning/room/probe:b":      seconds(10*time.Minute, time.Minute, 6*time.Hour),
		"bus-silent.critical/part:i2c":           seconds(10*time.Minute, time.Minute, time.Hour),
		"humidity-falling.notice/room":           condition(0, 3*day, 0),
		"humidity-rising.notice/room":            condition(0, 3*day, 0),
		"humidity-silent.warning/room/probe:a":   condition(10*time.Minute, time.Minute, 6*time.Hour),
		"humidity-silent.warning/room/probe:b":   condition(10*time.Minute, time.Minute, 6*time.Hour),
		"window-opening.notice/box:B1/clutch:C1": condition(0, day, 0),
		"hatching.notice/box:B1/clutch:C1":       condition(0, day, 0),
		"late.notice/box:B1/clutch:C1":           condition(0, day, 7*day),
		"drying.notice/box:B1":                   condition(time.Hour, 0, 0),
		"drying.notice/room":                     condition(0, 3*day, 0),
		"drying.warning/box:B1":                  condition(time.Hour, 0, day),
		"switched-off.notice":                    seconds(12*time.Hour, 0, day),
		"switched-off.notice/room":               seconds(12*time.Hour, 0, 7*day),
		"storage-failing.critical":               condition(0, 0, time.Hour),
		"storage-failing.warning":                condition(0, 0, day),
		"clock-unverified.notice":                condition(10*time.Minute, 0, 0),
		"station-restarted.notice":               condition(0, 0, 0),
		"copy-failing.notice":                    condition(time.Hour, 0, 7*day),
		"heartbeat-failing.notice":               condition(3*time.Hour, 0, day),
		"sender-failing.warning/part:mail":       condition(15*time.Minute, 0, day),
		"history-damaged.notice":                 condition(0, 0, 0),
		"all-well.notice/part:mail":              condition(0, 0, 0),
	}
	for _, k := range b.panel.Keys() {
		l, ok := want[k.String()]
		if !ok {
			t.Errorf("%s is watched", k)
			continue
		}
		check(t, k.String(), b.limit(k), l)
		delete(want, k.String())
	}
	for k := range want {
		t.Errorf("%s is not watched", k)
	}
}

// With everything in order no alarm is raised.
func TestAllInOrder(t *testing.T) {
	b := newBench(t)
	b.full()
	b.limits()
	for d := time.Duration(0); d < 3*time.Hour; d += time.Minute {
		b.at(d)
	}
	for _, e := range b.panel.Take() {
		t.Errorf("%s is %s", e.Key, e.To)
	}
}

// A rule sets limits of its own kinds alone.
func TestRulesKeepToTheirKinds(t *testing.T) {
	b := newBench(t)
	b.full()
	for _, r := range b.set.Rules() {
		limits := map[alert.Key]alert.Limit{}
		r.Limits(&b.v, b.panel, limits)
		for k := range limits {
			if !slices.Contains(r.Kinds(), k.Kind) {
				t.Errorf("the rule of %q sets a limit of %s", r.Kinds(), k)
			}
		}
	}
}
