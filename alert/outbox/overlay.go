package outbox

import (
	"context"

	"example.com/ootherm/alert"
)

// Overlay is a store whose alarms have their live state instead of the stored one. On a
// full card an acknowledgement cannot be written, yet it must stop a delayed message.
type Overlay struct {
	Keeper
	// State gives the live state of an alarm by its key. Where known is false, the
	// stored state counts.
	State func(key string) (state alert.State, known bool)
}

// Alarm gives one alarm by its key in its live state, and whether it is stored.
func (o Overlay) Alarm(ctx context.Context, key string) (alert.Alarm, bool, error) {
	a, has, err := o.Keeper.Alarm(ctx, key)
	if err != nil || !has {
		return a, has, err
	}
	if state, known := o.State(key); known {
		a.State = state
	}
	return a, true, nil
}

var _ Keeper = Overlay{}
