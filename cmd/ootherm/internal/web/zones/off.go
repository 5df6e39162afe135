package zones

import (
	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// switchedOff is the alarm that reminds of what is out of service.
const switchedOff = string(alert.SwitchedOff)

// off says that a zone, or some of what watches it, is switched off for work; nothing
// where all is on.
func off(n *snapshot.Snapshot, zone string) string {
	out, all := 0, 0
	for _, k := range n.Known {
		if k.Zone == zone && k.Alarm != switchedOff {
			all++
		}
	}
	for _, a := range n.Alarms {
		if words.OrEmpty(a.Zone) == zone && a.State == "out-of-service" {
			out++
		}
	}
	switch {
	case out == 0:
		return ""
	case out < all:
		return "partly switched off for work"
	}
	return "switched off for work"
}
