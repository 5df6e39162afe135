package rules

import (
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// heartbeatOnDelay is how long the heartbeat may not get out (our choice): a router that
// restarts, or a provider that works on its lines at night, is no news.
const heartbeatOnDelay = 3 * time.Hour

// HeartbeatFailing is the alarm of a heartbeat that does not get out: its watcher would not
// notice that the station is dead.
var HeartbeatFailing = alert.Key{Kind: alert.HeartbeatFailing, Priority: alert.Notice}

// heartbeat watches whether the heartbeat gets out.
type heartbeat struct{}

func (heartbeat) Kinds() []alert.Kind { return []alert.Kind{alert.HeartbeatFailing} }

func (heartbeat) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	if v.Health.WatchesHeartbeat {
		limits[HeartbeatFailing] = panel.Condition(heartbeatOnDelay, 0, callAgainDaily)
	}
}

// Show says nothing of a heartbeat that was not tried since the start.
func (heartbeat) Show(v *View, p *panel.Panel) {
	truth(p, HeartbeatFailing, v.Health.HeartbeatFailing, v.Health.HeartbeatTried)
}
