package outbox_test

import (
	"context"
	"errors"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
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

// The card is full: the message goes out from memory at once. When the card takes
// it after all it is not sent again; one that did not get out is.
func TestWhatCannotBeWrittenIsStillSent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		to := &counting{}
		card := outbox.NewMemory()
		made := func(k outbox.Keeper, routes []outbox.Route) *outbox.Courier {
			return outbox.NewCourier(k, routes, time.Now, func(outbox.Attempt) {})
		}
		s, routes := outbox.NewOverflow([]outbox.Route{{Name: "mail", Sender: to}}, made)
		onCard := made(card, routes)
		ctx, cancel := context.WithCancel(t.Context())
		var wg sync.WaitGroup
		wg.Go(func() { s.Run(ctx) })
		wg.Go(func() { onCard.Run(ctx) })
		first := alert.Message{ID: "temperature-low.critical/room/1", Alarm: "temperature-low.critical/room", Sender: "mail", At: time.Now(), Priority: alert.Critical}
		if err := s.Take(ctx, nil, []alert.Message{first}); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		if len(to.sent) != 1 {
			t.Fatalf("%v sent from memory, want the one message", to.sent)
		}
		to.mu.Lock()
		to.fail = errors.New("the mail server is away")
		to.mu.Unlock()
		second := first
		second.ID = "temperature-low.critical/room/2"
		if err := s.Take(ctx, nil, []alert.Message{second}); err != nil {
			t.Fatal(err)
		}
		synctest.Wait()
		to.mu.Lock()
		to.fail = nil
		to.mu.Unlock()
		if err := card.Commit(ctx, nil, []alert.Message{first, second}); err != nil {
			t.Fatal(err)
		}
		onCard.Wake()
		synctest.Wait()
		to.mu.Lock()
		sent := append([]string(nil), to.sent...)
		to.mu.Unlock()
		if len(sent) != 2 || sent[1] != second.ID {
			t.Errorf("%v sent in all, want each of the two once", sent)
		}
		cancel()
		wg.Wait()
	})
}
