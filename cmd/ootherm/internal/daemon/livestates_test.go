package daemon

import (
	"context"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// countingSender keeps the identities of the messages that it delivers.
type countingSender struct {
	mu   sync.Mutex
	sent []string
	fail error
}

func (c *countingSender) Send(_ context.Context, m alert.Message) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.fail != nil {
		return c.fail
	}
	c.sent = append(c.sent, m.ID)
	return nil
}

// On a full card the station cannot write that an alarm was acknowledged or is over. The
// courier asks the running station: it calls the neighbour only for an alarm that is
// still active.
func TestCourierUsesLiveAlarmStates(t *testing.T) {
	key := alert.Key{Kind: alert.TemperatureLow, Priority: alert.Critical, Zone: "room"}
	listed := func(state string) *snapshot.Snapshot {
		return &snapshot.Snapshot{Alarms: []snapshot.Alarm{{Key: key.String(), State: state}}}
	}
	for name, c := range map[string]struct {
		now  *snapshot.Snapshot
		want int
	}{
		"active":                       {listed("active"), 1},
		"acknowledged":                 {listed("acknowledged"), 0},
		"over":                         {&snapshot.Snapshot{}, 0},
		"the station is not ready yet": {nil, 1},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				card, to := outbox.NewMemory(), &countingSender{}
				var published atomic.Pointer[snapshot.Snapshot]
				published.Store(listed("active"))
				courier := outbox.NewCourier(outbox.Overlay{Keeper: card, State: liveStates(published.Load)}, []outbox.Route{{Name: "neighbour", Sender: to, After: 15 * time.Minute}}, time.Now, func(outbox.Attempt) {})
				ctx, cancel := context.WithCancel(t.Context())
				done := make(chan struct{})
				go func() { courier.Run(ctx); close(done) }()
				a, _ := alert.New(key, alert.Limit{At: 20}).Observe(time.Now(), 18, true)
				a, id := a.Next()
				if err := card.Commit(ctx, []alert.Alarm{a}, []alert.Message{{ID: id, Alarm: key.String(), Sender: "neighbour", At: time.Now(), Priority: alert.Critical}}); err != nil {
					t.Fatal(err)
				}
				courier.Wake()
				<-time.After(10 * time.Minute)
				published.Store(c.now) // the card still holds the old state
				<-time.After(10 * time.Minute)
				cancel()
				<-done
				if len(to.sent) != c.want {
					t.Errorf("called %d times, want %d", len(to.sent), c.want)
				}
			})
		})
	}
}
