package senders

import (
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// An alert is kept while its alarm holds, or another of the same side of the zone.
func TestStands(t *testing.T) {
	room := "room"
	n := &snapshot.Snapshot{Alarms: []snapshot.Alarm{
		{Key: "drift-down.warning/room", Alarm: "drift-down", AlarmPlace: snapshot.AlarmPlace{Zone: &room}, State: "active"},
		{Key: "humidity-low.warning/room", Alarm: "humidity-low", AlarmPlace: snapshot.AlarmPlace{Zone: &room}, State: "returned"},
	}}
	for key, want := range map[string]bool{
		"drift-down.warning/room": true, "temperature-low.critical/room": true, "temperature-low.critical/attic": false,
		"temperature-high.critical/room": false, "humidity-low.warning/room": false, "clock-unverified.notice": false, "nonsense": false,
	} {
		if got := stands(n, key); got != want {
			t.Errorf("%s: %v", key, got)
		}
	}
}
