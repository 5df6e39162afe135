package station

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/sensor/zone"
)

const reAlarmWarning = 6 * time.Hour

type driftRule struct{ s *Station }

func (driftRule) Kinds() []alert.Kind                                    { return []alert.Kind{alert.DriftUp, alert.DriftDown} }
func (r driftRule) Limits(_ *rules.View, want map[alert.Key]alert.Limit) { r.s.driftLimits(want) }
func (r driftRule) Show(*rules.View, *panel.Panel) {
	for _, z := range r.s.zones {
		r.s.watchDrift(z)
	}
}

type exposureRule struct{ s *Station }

func (exposureRule) Kinds() []alert.Kind                                    { return []alert.Kind{alert.SingleEvent, alert.Cumulative} }
func (r exposureRule) Limits(_ *rules.View, want map[alert.Key]alert.Limit) { r.s.doseLimits(want) }
func (r exposureRule) Show(*rules.View, *panel.Panel)                       { r.s.watchDoses() }

func nameOf(p *zone.Probe) string {
	if p == nil {
		return ""
	}
	return p.Name
}

// observe hands a value to an alarm, if there is such an alarm.
func (s *Station) observe(k alert.Key, v float64, known bool, probe string) {
	s.panel.Show(k, panel.Reading{Value: v, Known: known, Probe: probe})
}

// isSilent reports whether a probe gives nothing now.
func (s *Station) isSilent(name string) bool {
	p := s.probes[name]
	return p != nil && !p.Fresh(s.now)
}
