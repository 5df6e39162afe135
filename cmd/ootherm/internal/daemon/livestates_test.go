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

// counting is a sender that counts what it delivers.
type counting struct {
	mu   sync.Mutex
	sent []string
	fail error
}

func (c *counting) Send(_ context.Context, m alert.Message) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.fail != nil {
		return c.fail
	}
	c.sent = append(c.sent, m.ID)
	return nil
}

// On a full card what somebody says that they saw, or that is over, cannot be written:
// the neighbour is not called for all that, and is for what nobody has seen.
func TestTheNeighbourGoesByWhatTheStationKnows(t *testing.T) {
	key := alert.Key{Kind: alert.TemperatureLow, Priority: alert.Critical, Zone: "room"}
	listed := func(state string) *snapshot.Snapshot {
		return &snapshot.Snapshot{Alarms: []snapshot.Alarm{{Key: key.String(), State: state}}}
	}
	for name, c := range map[string]struct {
		now  *snapshot.Snapshot
		want int
	}{
		"nobody has seen it":           {listed("active"), 1},
		"somebody has":                 {listed("acknowledged"), 0},
		"it is over":                   {&snapshot.Snapshot{}, 0},
		"the station is not ready yet": {nil, 1},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				card, to := outbox.NewMemory(), &counting{}
				var published atomic.Pointer[snapshot.Snapshot]
				published.Store(listed("active"))
				c1 := outbox.NewCourier(outbox.Overlay{Keeper: card, State: liveStates(published.Load)}, []outbox.Route{{Name: "neighbour", Sender: to, After: 15 * time.Minute}}, time.Now, func(outbox.Attempt) {})
				ctx, cancel := context.WithCancel(t.Context())
				done := make(chan struct{})
				go func() { c1.Run(ctx); close(done) }()
				a, _ := alert.New(key, alert.Limit{At: 20}).Observe(time.Now(), 18, true)
				a, id := a.Next()
				if err := card.Commit(ctx, []alert.Alarm{a}, []alert.Message{{ID: id, Alarm: key.String(), Sender: "neighbour", At: time.Now(), Priority: alert.Critical}}); err != nil {
					t.Fatal(err)
				}
				c1.Wake()
				<-time.After(10 * time.Minute)
				published.Store(c.now) // and nothing on the card
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
