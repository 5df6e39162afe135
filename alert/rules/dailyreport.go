package rules

import (
	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// DailyReport counts the daily reports to one sender. It is never raised: it is kept with the
// alarms so that a restart sends no day twice.
func DailyReport(sender string) alert.Key {
	return alert.Key{Kind: alert.AllWell, Priority: alert.Notice, Part: sender}
}

type dailyReport struct{}

func (dailyReport) Kinds() []alert.Kind { return []alert.Kind{alert.AllWell} }

func (dailyReport) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	for _, x := range v.Health.Senders {
		if x.DailyReport {
			limits[DailyReport(x.Name)] = panel.Condition(0, 0, 0)
		}
	}
}

func (dailyReport) Show(*View, *panel.Panel) {}
