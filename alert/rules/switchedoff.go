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
// station itself.
type switchedOff struct{}

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
		limits[panel.Reminder(v.Zones[i].Name)] = limit(v.Zones[i].Eggs)
	}
	limits[panel.Reminder("")] = limit(len(v.Clutches) > 0)
}

func (s switchedOff) Show(v *View, p *panel.Panel) {
	s.show(v, p, "")
	for i := range v.Zones {
		s.show(v, p, v.Zones[i].Name)
	}
}

func (switchedOff) show(v *View, p *panel.Panel, zone string) {
	spent := time.Duration(0)
	if o := p.OutOfService(zone); len(o.Keys) > 0 {
		spent = v.Now.Sub(o.Since)
	}
	p.Show(panel.Reminder(zone), panel.Reading{Value: spent.Seconds(), Known: true})
}

// ShowSwitchedOff shows the reminders alone: after a person acted they are not to wait for the
// next step.
func ShowSwitchedOff(v *View, p *panel.Panel) { switchedOff{}.Show(v, p) }
