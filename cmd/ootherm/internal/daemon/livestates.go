package daemon

import (
	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// liveStates gives the state of an alarm by its key as the station last published it,
// for [outbox.Overlay]. Before the station is ready it knows none. An alarm that is not
// published is normal.
func liveStates(published func() *snapshot.Snapshot) func(key string) (alert.State, bool) {
	return func(key string) (alert.State, bool) {
		n := published()
		if n == nil {
			return "", false
		}
		for _, a := range n.Alarms {
			if a.Key == key {
				return alert.State(a.State), true
			}
		}
		return alert.Normal, true
	}
}
