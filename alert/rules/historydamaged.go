package rules

import (
	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// HistoryDamaged is the notice that stored readings cannot be read. It stands while they are
// there: what was measured in them counts as not measured.
var HistoryDamaged = alert.Key{Kind: alert.HistoryDamaged, Priority: alert.Notice}

// historyDamaged watches whether the stored readings can be read.
type historyDamaged struct{}

func (historyDamaged) Kinds() []alert.Kind { return []alert.Kind{alert.HistoryDamaged} }

func (historyDamaged) Limits(_ *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	limits[HistoryDamaged] = panel.Condition(0, 0, 0)
}

// Show does not know, after a start, until the station has read what it needs.
func (historyDamaged) Show(v *View, p *panel.Panel) {
	truth(p, HistoryDamaged, v.Health.HistoryDamaged, v.Health.HistoryDamaged || v.Health.HistoryKnown)
}
