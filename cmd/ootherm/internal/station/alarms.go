package station

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// alarms are all alarms of a station by their keys, and what of them is not yet
// in the journal.
type alarms struct {
	journal  Journal
	byKey    map[alert.Key]alert.Alarm
	probe    map[alert.Key]string // the probe whose value the alarm last took
	dirty    map[alert.Key]bool
	acted    map[alert.Key]bool      // of these, those that a person did something about
	pending  map[alert.Key]time.Time // the beginnings of on-delays that are in the journal
	messages []alert.Message
	handed   int                       // of the messages, those that were handed on as urgent
	stored   map[alert.Key]alert.Alarm // known, not asked for just now
	spoke    map[alert.Key]spoken      // of alarms that stand
	why      map[alert.Key]string      // of those whose limit went in this step, why
	limited  map[alert.Key]alert.Limit // of alarms that stand, the limit they were raised by, where it was changed
	told     []alert.Event             // of this step, that deserve a message
	past     []alert.Event             // that are not in the diary yet

	unwritten bool                               // the journal did not take the last commit
	before    map[alert.Key]map[string]time.Time // the likely hatch of each group as an excursion began
}

// loadAlarms takes up what the journal holds.
func loadAlarms(ctx context.Context, j Journal) (*alarms, error) {
	a := &alarms{
		journal: j,
		byKey:   map[alert.Key]alert.Alarm{},
		probe:   map[alert.Key]string{},
		dirty:   map[alert.Key]bool{},
		acted:   map[alert.Key]bool{},
		pending: map[alert.Key]time.Time{},
		stored:  map[alert.Key]alert.Alarm{},
		spoke:   map[alert.Key]spoken{},
		why:     map[alert.Key]string{},
		limited: map[alert.Key]alert.Limit{},
		before:  map[alert.Key]map[string]time.Time{},
	}
	all, _, err := j.Load(ctx)
	if err != nil {
		return nil, fmt.Errorf("app: reading the alarms: %w", err)
	}
	for _, x := range all {
		a.stored[x.Key] = x
		a.pending[x.Key] = x.Pending
	}
	return a, nil
}

// ensure gives an alarm its limit; one that the journal knew goes on from there.
func (s *Station) ensure(k alert.Key, l alert.Limit) {
	a := s.alarms
	if x, ok := a.byKey[k]; ok {
		a.relimit(x, l)
		x.Limit = l
		a.byKey[k] = x
		return
	}
	x, known := a.stored[k]
	if !known {
		a.byKey[k] = alert.New(k, l)
		return
	}
	delete(a.stored, k)
	a.relimit(x, l)
	x, events := x.Resume(s.now, l)
	a.byKey[k] = x
	s.tell(k, events)
}

// relimit notes by which limit an alarm was raised that gets another while it stands.
func (a *alarms) relimit(x alert.Alarm, l alert.Limit) {
	if !x.True {
		delete(a.limited, x.Key)
	} else if _, known := a.limited[x.Key]; !known && x.Limit.At != l.At {
		a.limited[x.Key] = x.Limit
	}
}

// retire ends an alarm whose limit is gone. It is kept aside: its messages are counted
// on, and what a person switched off stays so, should the limit come back.
func (s *Station) retire(k alert.Key, why string) {
	x, ok := s.alarms.byKey[k]
	if !ok {
		return
	}
	x, events := x.Gone(s.now)
	delete(s.alarms.byKey, k)
	s.alarms.stored[k], s.alarms.why[k] = x, why
	s.alarms.dirty[k] = s.alarms.dirty[k] || x.Out
	s.tell(k, events)
}

// observe hands a value to an alarm, if there is such an alarm.
func (s *Station) observe(k alert.Key, v float64, known bool, probe string) {
	s.observeSince(k, v, known, probe, time.Time{})
}

// observeSince is observe of a condition that began at a time before it was told from
// none; zero: as it passed the limit.
func (s *Station) observeSince(k alert.Key, v float64, known bool, probe string, began time.Time) {
	a := s.alarms
	x, ok := a.byKey[k]
	if !ok {
		return
	}
	if probe != "" {
		a.probe[k] = probe
	}
	x, events := x.Observe(s.now, v, known)
	if x.True && !began.IsZero() && began.Before(x.Began) {
		x.Began, a.dirty[k] = began, true
		for i := range events {
			events[i].Began = began
		}
	}
	a.byKey[k] = x
	// The beginning of an on-delay is kept once a second poll has found it so, so
	// that a restart does not begin it anew; and its end, so that an old one is not
	// taken up again. Polls come a little early or late.
	kept := a.pending[k]
	if !x.Pending.Equal(kept) && (x.Pending.IsZero() || kept.IsZero() && s.now.Sub(x.Pending) >= s.plan.Every*3/4) {
		a.dirty[k] = true
	}
	s.tell(k, events)
}

// tell follows the events of one alarm to the journal, to the messages and to
// whoever listens.
func (s *Station) tell(k alert.Key, events []alert.Event) {
	a := s.alarms
	for _, e := range events {
		a.dirty[k] = true
		if e.To == alert.Active && !e.ReAlarm {
			delete(a.limited, k)
			s.noteWindows(k)
		}
		if !e.ReAlarm {
			a.past = append(a.past, e)
		}
		if e.Notify() && !s.outranked(e) {
			a.told = append(a.told, e)
		}
		if s.o.OnEvent != nil && e.From != e.To {
			s.o.OnEvent(eventOf(e, s.zoneNamed(k), a.probe[k]))
		}
	}
}

// outranked reports whether an event is a warning called again while the critical
// alarm of the same cause calls: "look today" beside "go now" is no help.
func (s *Station) outranked(e alert.Event) bool {
	k := e.Key
	if !e.ReAlarm || k.Priority != alert.Warning {
		return false
	}
	k.Priority = alert.Critical
	x := s.alarms.byKey[k]
	return x.State == alert.Active || x.State == alert.Acknowledged
}

// commit writes alarms that changed, and their messages, in one transaction. If
// that fails they are kept for the next time.
func (s *Station) commit(ctx context.Context) (err error) {
	defer func() { err = errors.Join(err, s.jot()) }()
	a := s.alarms
	if s.o.Visit {
		a.told = nil
		a.past = slices.DeleteFunc(a.past, func(e alert.Event) bool { return !a.acted[e.Key] })
		maps.DeleteFunc(a.dirty, func(k alert.Key, _ bool) bool { return !a.acted[k] })
	}
	s.compose()
	if len(a.dirty) == 0 && len(a.messages) == 0 {
		return nil
	}
	changed := make([]alert.Alarm, 0, len(a.dirty))
	for k := range a.dirty {
		if x, ok := a.byKey[k]; ok {
			changed = append(changed, x)
		} else if x, ok := a.stored[k]; ok {
			changed = append(changed, x)
		}
	}
	if err := a.journal.Commit(ctx, changed, a.messages); err != nil {
		a.unwritten = true
		if fresh := a.messages[a.handed:]; len(fresh) > 0 && s.o.Urgent != nil {
			s.o.Urgent(changed, fresh)
			a.handed = len(a.messages)
		}
		return fmt.Errorf("app: writing %d alarms and %d messages: %w", len(changed), len(a.messages), err)
	}
	a.unwritten = false
	for _, x := range changed {
		a.pending[x.Key] = x.Pending
	}
	s.posted = s.posted || len(a.messages) > 0
	clear(a.dirty)
	clear(a.acted)
	a.messages, a.handed = nil, 0
	return nil
}

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
	for k, l := range want {
		s.ensure(k, l)
	}
	for _, k := range s.keys() {
		if _, ok := want[k]; !ok {
			s.retire(k, why)
		}
	}
	s.reckonOff()
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
	s.turn()
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
				s.observe(high, hi, hot != nil && !s.lost(z, high, hi, w.of, fresh), nameOf(hot))
				s.observe(low, lo, cold != nil && !s.lost(z, low, lo, w.of, fresh), nameOf(cold))
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
	s.watchDay()
	return s.commit(ctx)
}

func nameOf(p *probe) string {
	if p == nil {
		return ""
	}
	return p.name
}

// shift moves alarms of this boot, when it is dated anew.
func (a *alarms) shift(since time.Time, by time.Duration) {
	for k, x := range a.byKey {
		for _, t := range []*time.Time{&x.Pending, &x.Clearing, &x.Began, &x.Since, &x.Changed, &x.Called, &x.AckedAt, &x.Last.At, &x.ShelvedUntil} {
			if !t.Before(since) {
				*t = t.Add(by)
			}
		}
		a.byKey[k] = x
		a.dirty[k] = true
	}
}

// Known are the alarms a station may raise as it is now, in a steady order.
func (s *Station) keys() []alert.Key {
	return inOrder(s.alarms.byKey)
}

func inOrder(alarms map[alert.Key]alert.Alarm) []alert.Key {
	return slices.SortedFunc(maps.Keys(alarms), func(a, b alert.Key) int {
		return cmp.Compare(a.String(), b.String())
	})
}

func eventOf(e alert.Event, zone, probe string) snapshot.Event {
	value, limit := snapshot.OptFloat(e.Value), snapshot.OptFloat(e.Limit)
	if e.Key.Kind.Unit() == alert.None { // a condition has no figures
		value, limit = nil, nil
	}
	return snapshot.Event{
		At: e.At, Alarm: string(e.Key.Kind), Zone: snapshot.OptText(zone), Probe: snapshot.OptText(cmp.Or(e.Key.Probe, probe)),
		From: string(e.From), To: string(e.To), Value: value, Limit: limit,
		Unit: snapshot.OptText(string(e.Key.Kind.Unit())), Priority: string(e.Key.Priority), Box: snapshot.OptText(e.Key.Box),
	}
}

// Standing are all alarms as they stand, but for what eggs felt in all once somebody
// has seen it: that is never undone.
func (s *Station) Standing() []alert.Alarm {
	var all []alert.Alarm
	for _, k := range s.keys() {
		if x := s.alarms.byKey[k]; x.State != alert.Acknowledged || k.Kind != alert.Cumulative {
			all = append(all, x)
		}
	}
	return all
}
