package rules

import (
	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// leastFreeBytes is how much room the card has at least (our choice): three months of a dozen
// probes.
const leastFreeBytes = 100 << 20

// Alarms of what the station writes.
var (
	StorageFailing = alert.Key{Kind: alert.StorageFailing, Priority: alert.Critical}
	StorageFull    = alert.Key{Kind: alert.StorageFailing, Priority: alert.Warning}
)

// storage watches whether readings and alarms can be written, and the room on the card.
type storage struct{}

func (storage) Kinds() []alert.Kind { return []alert.Kind{alert.StorageFailing} }

func (storage) Limits(v *View, _ *panel.Panel, limits map[alert.Key]alert.Limit) {
	limits[StorageFailing] = panel.Condition(0, 0, callAgainCritical)
	if v.Health.WatchesSpace {
		limits[StorageFull] = panel.Condition(0, 0, callAgainDaily)
	}
}

func (storage) Show(v *View, p *panel.Panel) {
	truth(p, StorageFailing, v.Health.StorageFailing, v.Health.StorageFailing || v.Health.StorageKnown)
	truth(p, StorageFull, v.Health.Free < leastFreeBytes, v.Health.FreeKnown)
}
