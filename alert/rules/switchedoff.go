package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// outOfServiceReminder is after how long a person is reminded of what is out of service (our
// choice): a day's work is done after half a day. A room that is empty for a season is no news
// each morning, so it is called again each week, and each day where eggs wait.
const outOfServiceReminder = 12 * time.Hour

// switchedOff reminds of what a person put out of service and left so, in each zone and of the
// station itself. A zone with eggs whose safe limits are out of service is still watched: once
// it is past one of them for its on-delay, a critical alarm takes the place of the reminder.
type switchedOff struct{}

// UnsafeOutOfService is the alarm of a zone with eggs that is past a safe limit which is out of
// service.
func UnsafeOutOfService(zone string) alert.Key {
	return alert.Key{Kind: alert.SwitchedOff, Priority: alert.Critical, Zone: zone}
}

func (switchedOff) Kinds() []alert.Kind { return []alert.Kind{alert.SwitchedOff} }

func (switchedOff) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	limit := func(eggs bool) alert.Limit {
		l := alert.Limit{High: true, At: outOfServiceReminder.Seconds(), ReAlarm: callAgainWeekly}
		if eggs {
			l.ReAlarm = callAgainDaily
		}
		return l
	}
	for i := range v.Zones {
		z := &v.Zones[i]
		limits[panel.Reminder(z.Name)] = limit(z.Eggs)
		if z.Eggs && z.Safe != nil { // the on-delay is that of the safe limit
			limits[UnsafeOutOfService(z.Name)] = alert.Limit{High: true, At: 1, ReAlarm: callAgainCritical}
		}
	}
	limits[panel.Reminder("")] = limit(len(v.Clutches) > 0)
}

func (s switchedOff) Show(v *View, p *panel.Panel) {
	s.show(v, p, "")
	for i := range v.Zones {
		s.show(v, p, v.Zones[i].Name)
		s.showUnsafe(v, p, v.Zones[i].Name)
	}
}

func (switchedOff) show(v *View, p *panel.Panel, zone string) {
	p.Show(panel.Reminder(zone), panel.Reading{Value: outFor(v, p, zone).Seconds(), Known: true})
}

// outFor is how long something of a zone is out of service; 0 where nothing is.
func outFor(v *View, p *panel.Panel, zone string) time.Duration {
	if o := p.OutOfService(zone); len(o.Keys) > 0 {
		return v.Now.Sub(o.Since)
	}
	return 0
}

// showUnsafe shows whether a zone with eggs is past a safe limit that is out of service. A
// person who put the limit back in service has its own alarm, and no message of an end.
func (switchedOff) showUnsafe(v *View, p *panel.Panel, zone string) {
	k := UnsafeOutOfService(zone)
	if len(p.OutOfService(zone).Keys) == 0 && !p.Stands(k) { // nearly always
		p.Suppress(panel.Reminder(zone), false)
		return
	}
	if _, ok := p.Alarm(k); !ok {
		return
	}
	out, past := UnsafeLimit(p, zone)
	p.Suppress(panel.Reminder(zone), past != nil)
	switch {
	case past != nil:
		p.Show(k, panel.Reading{Value: max(outFor(v, p, zone), time.Second).Seconds(), Known: true, Began: past.Began})
	case out:
		p.Show(k, panel.Reading{Known: true})
	case p.Stands(k):
		p.Suppress(k, true)
		p.Show(k, panel.Reading{Known: true})
		p.Suppress(k, false)
	}
}

// UnsafeLimit reports whether a safe limit of a zone's temperature is out of service, and gives
// the one that is passed; nil where none is.
func UnsafeLimit(p *panel.Panel, zone string) (out bool, past *alert.Alarm) {
	for _, kind := range [...]alert.Kind{alert.TemperatureLow, alert.TemperatureHigh} {
		x, ok := p.Alarm(alert.Key{Kind: kind, Priority: alert.Critical, Zone: zone})
		if !ok || !x.Out {
			continue
		}
		out = true
		if x.True && past == nil {
			passed := x // nearly never: only then does it need memory
			past = &passed
		}
	}
	return out, past
}

// ShowSwitchedOff shows the reminders alone: after a person acted they are not to wait for the
// next step.
func ShowSwitchedOff(v *View, p *panel.Panel) { switchedOff{}.Show(v, p) }
