package daemon

import (
	"context"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// asItStands is a store whose alarms stand as the station has them, and not as they
// were last written: on a full card that somebody has seen one is not. Before the
// station is ready they stand as written.
type asItStands struct {
	outbox.Keeper
	now func() *snapshot.Snapshot
}

// Alarm is the alarm of a key, in its state as it is now.
func (k asItStands) Alarm(ctx context.Context, key string) (alert.Alarm, bool, error) {
	a, has, err := k.Keeper.Alarm(ctx, key)
	n := k.now()
	if err != nil || !has || n == nil {
		return a, has, err
	}
	a.State = alert.Normal
	for _, x := range n.Alarms {
		if x.Key == key {
			a.State = alert.State(x.State)
		}
	}
	return a, true, nil
}

var _ outbox.Keeper = asItStands{}
