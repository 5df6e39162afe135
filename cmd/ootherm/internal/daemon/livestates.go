package daemon

import (
	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// liveStates returns a function that gives an alarm's state by its key, as the station
// published it last. [outbox.Overlay] uses it. It reports false before the station is
// ready. An alarm that is not published is normal.
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
