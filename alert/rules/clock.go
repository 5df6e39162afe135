package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// clockOnDelay is how long a start waits for the time (our choice): a time server answers in
// seconds, a router takes minutes.
const clockOnDelay = 10 * time.Minute

// ClockUnverified is the alarm of a station that does not know the time.
var ClockUnverified = alert.Key{Kind: alert.ClockUnverified, Priority: alert.Notice}

// clock watches whether the time is known.
type clock struct{}

func (clock) Kinds() []alert.Kind { return []alert.Kind{alert.ClockUnverified} }

func (clock) Limits(_ *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	limits[ClockUnverified] = panel.Condition(clockOnDelay, 0, 0)
}

func (clock) Show(v *View, p *panel.Panel) { truth(p, ClockUnverified, !v.Health.Synchronised, true) }
