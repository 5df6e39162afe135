package senders

import (
	"context"
	"log/slog"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertmanager"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// refreshEvery is the time between two posts of what stands at an alert receiver. Other
// clients of it post each minute (Prometheus documentation, "Alertmanager clients", from memory).
const refreshEvery = time.Minute

// Receiver is an alert receiver and the name of its sender.
type Receiver struct {
	name string
	*alertmanager.Sender
}

// Receivers are the alert receivers among routes.
func Receivers(routes []outbox.Route) (all []Receiver) {
	for _, r := range routes {
		if s, ok := r.Sender.(*alertmanager.Sender); ok {
			all = append(all, Receiver{r.Name, s})
		}
	}
	return all
}

// RefreshReceivers posts to each alert receiver what stands in the present state, until the
// context ends.
func RefreshReceivers(ctx context.Context, all []Receiver, now func() *snapshot.Snapshot, log *slog.Logger) {
	if len(all) == 0 {
		return
	}
	tick := time.NewTicker(refreshEvery)
	defer tick.Stop()
	failing := map[string]bool{}
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		n := now()
		if n == nil {
			continue // the station has not stepped yet
		}
		for _, r := range all {
			limited, cancel := context.WithTimeout(ctx, outbox.SendLimit)
			err := r.Refresh(limited, func(key string) bool { return stands(n, key) })
			cancel()
			switch {
			case ctx.Err() != nil:
				return
			case err != nil && !failing[r.name]:
				log.Warn("what stands does not reach the alert receiver", "sender", r.name, "err", err)
			case err == nil && failing[r.name]:
				log.Info("what stands reaches the alert receiver again", "sender", r.name)
			}
			failing[r.name] = err != nil
		}
	}
}

// stands reports whether the cause of an alarm holds, or that of another alarm of its
// episode: on the same side of the same zone.
func stands(n *snapshot.Snapshot, key string) bool {
	k, err := alert.ParseKey(key)
	if err != nil {
		return false
	}
	for _, a := range n.Alarms {
		if a.State == string(alert.Active) || a.State == string(alert.Acknowledged) || a.Stands {
			if a.Key == key || k.Kind.Side() != "" && alert.Kind(a.Alarm).Side() == k.Kind.Side() && a.Zone != nil && *a.Zone == k.Zone {
				return true
			}
		}
	}
	return false
}
