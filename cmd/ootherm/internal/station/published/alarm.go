package published

import (
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertlog"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Alarms publishes the alarms of a panel: the keys of all, and those that are not normal
// as they are. Detail completes one from what the rules know of it.
func Alarms(p *panel.Panel, now time.Time, detail func(alert.Alarm, *snapshot.Alarm)) (known []snapshot.AlarmID, all []snapshot.Alarm) {
	all = []snapshot.Alarm{}
	for _, k := range p.Keys() {
		x, _ := p.Alarm(k)
		if k.Kind != alert.AllWell {
			known = append(known, snapshot.AlarmID{Key: k.String(), Alarm: string(k.Kind), Zone: p.Zone(k), Probe: k.Probe, Priority: string(k.Priority)})
		}
		if x.State == alert.Normal {
			continue
		}
		a := alarm(p, x, now)
		detail(x, &a)
		all = append(all, a)
	}
	return known, all
}

// Pending publishes the alarms of a panel whose on-delay is running. One that a person
// or a wider alarm hides is not among them.
func Pending(p *panel.Panel) []snapshot.PendingAlarm {
	all := []snapshot.PendingAlarm{}
	for _, k := range p.Keys() {
		x, _ := p.Alarm(k)
		if x.State != alert.Normal || x.Pending.IsZero() {
			continue
		}
		a := snapshot.PendingAlarm{
			Key: k.String(), Alarm: string(k.Kind), AlarmPlace: place(p, k), Priority: string(k.Priority),
			Since: x.Began, RaisedAt: x.Pending.Add(x.Limit.OnDelay), Unit: snapshot.OptText(string(k.Kind.Unit())),
		}
		if k.Kind.Unit() != alert.None {
			a.Value, a.Limit = snapshot.OptFloat(x.Value), snapshot.OptFloat(x.Limit.At)
		}
		all = append(all, a)
	}
	return all
}

// place publishes what an alarm is about.
func place(p *panel.Panel, k alert.Key) snapshot.AlarmPlace {
	probe := k.Probe
	if probe == "" {
		probe = p.Probe(k)
	}
	return snapshot.AlarmPlace{
		Zone: snapshot.OptText(p.Zone(k)), Box: snapshot.OptText(k.Box), Probe: snapshot.OptText(probe),
		Clutch: snapshot.OptText(k.Clutch), Part: snapshot.OptText(k.Part),
	}
}

func alarm(p *panel.Panel, x alert.Alarm, now time.Time) snapshot.Alarm {
	a := snapshot.Alarm{
		Key: x.Key.String(), Alarm: string(x.Key.Kind),
		AlarmPlace: place(p, x.Key),
		Priority:   string(x.Key.Priority), State: string(x.State), Since: x.Began,
		Value: snapshot.OptFloat(x.Value), Limit: snapshot.OptFloat(x.Limit.At), Peak: snapshot.OptFloat(x.Peak),
	}
	if a.Since.IsZero() {
		a.Since = x.Since
	}
	switch {
	case x.Key.Kind == alert.SwitchedOff && x.True:
		a.Since = p.OutOfService(x.Key.Zone).Since
	case rules.IsSilence(x.Key.Kind) && x.True: // what went before a start counts
		a.Value = snapshot.OptFloat(now.Sub(x.Began).Seconds())
	case x.Out && !x.True:
		a.Since = x.Changed
	}
	a.Unit = snapshot.OptText(string(x.Key.Kind.Unit()))
	a.Stands, a.Seen = x.True, x.Acked
	if x.Key.Kind.Unit() == alert.None {
		a.Value, a.Limit, a.Peak = nil, nil, nil
	}
	a.Recovery = recovery(x)
	if x.State == alert.Shelved {
		a.Until = &x.ShelvedUntil
	}
	return a
}

// recovery publishes how an alarm ends that measures its value within its limit. It is nil
// while the value is past the limit or missing.
func recovery(x alert.Alarm) *snapshot.Recovery {
	switch x.Key.Kind {
	case alert.TemperatureHigh, alert.TemperatureLow, alert.HumidityHigh, alert.HumidityLow:
	default:
		return nil
	}
	if !x.True && !x.Unseen || x.Last.Hole || math.IsNaN(x.Value) || x.Limit.Beyond(x.Value) {
		return nil
	}
	r := &snapshot.Recovery{Threshold: snapshot.OptFloat(x.Limit.Threshold())}
	if !x.Clearing.IsZero() {
		ends := x.Clearing.Add(x.Limit.OffDelay)
		r.Since, r.EndsAt = &x.Clearing, &ends
	}
	return r
}

// Coming publishes a projection.
func Coming(p alert.Projection) *snapshot.Coming {
	c := &snapshot.Coming{Limit: p.Limit, About: p.At, Earliest: p.Earliest}
	if !p.Latest.IsZero() {
		c.Latest = &p.Latest
	}
	return c
}

// Event publishes a transition of an alarm.
func Event(e alert.Event, zone, probe string) snapshot.Event {
	value, limit := snapshot.OptFloat(e.Value), snapshot.OptFloat(e.Limit)
	if e.Key.Kind.Unit() == alert.None { // a condition has no figures
		value, limit = nil, nil
	}
	if e.Key.Probe != "" {
		probe = e.Key.Probe
	}
	return snapshot.Event{
		At: e.At, Alarm: string(e.Key.Kind), Zone: snapshot.OptText(zone), Probe: snapshot.OptText(probe),
		From: string(e.From), To: string(e.To), Value: value, Limit: limit,
		Unit: snapshot.OptText(string(e.Key.Kind.Unit())), Priority: string(e.Key.Priority), Box: snapshot.OptText(e.Key.Box),
	}
}

// PastAlarm publishes an occurrence of the alarm log.
func PastAlarm(a alertlog.Occurrence) snapshot.PastAlarm {
	v := snapshot.PastAlarm{
		Alarm: string(a.Key.Kind), Zone: snapshot.OptText(a.Key.Zone), Box: snapshot.OptText(a.Key.Box), Probe: snapshot.OptText(a.Key.Probe), Clutch: snapshot.OptText(a.Key.Clutch),
		Part: snapshot.OptText(a.Key.Part), Priority: string(a.Key.Priority), Began: a.Began, Raised: a.Raised, Limit: a.Limit, Peak: a.Peak,
	}
	if !a.Seen.IsZero() {
		v.Seen = &a.Seen
	}
	if !a.Ended.IsZero() {
		v.Ended = &a.Ended
	}
	if a.Key.Kind.Unit() == alert.None {
		v.Limit, v.Peak = nil, nil
	}
	return v
}
