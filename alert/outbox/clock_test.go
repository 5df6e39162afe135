package outbox_test

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
)

// A station without a clock chip raises an alarm before it knows the time, and its
// messages wait for the network that also tells it the time: whichever way the clock
// is then set, they go as soon as they can, and the neighbour hears of it in his time.
func TestTheClockIsSetWhileMessagesWait(t *testing.T) {
	for _, step := range []time.Duration{-365 * 24 * time.Hour, -12 * time.Hour, -10 * time.Minute, 10 * time.Minute, 12 * time.Hour} {
		synctest.Test(t, func(t *testing.T) {
			var set atomic.Int64
			now := func() time.Time { return time.Now().Add(time.Duration(set.Load())) }
			k := memory()
			mail, neighbour := &server{fail: errors.New("no network yet")}, &server{}
			c := outbox.NewCourier(k, []outbox.Route{{Name: "mail", Sender: mail}, {Name: "neighbour", Sender: neighbour, After: 15 * time.Minute}}, now, func(outbox.Attempt) {})
			ctx, cancel := context.WithCancel(t.Context())
			done := make(chan struct{})
			go func() { c.Run(ctx); close(done) }()
			defer func() { cancel(); <-done }()
			key, err := alert.ParseKey("temperature-high.critical/room")
			if err != nil {
				t.Fatal(err)
			}
			a, _ := alert.New(key, alert.Limit{High: true, At: 26}).Observe(now(), 30, true)
			a, _ = a.Next()
			m, n := message(1, "mail"), message(1, "neighbour")
			if err := k.Commit(ctx, []alert.Alarm{a}, []alert.Message{m, n}); err != nil {
				t.Fatal(err)
			}
			c.Wake()
			pass(5 * time.Minute)
			set.Store(int64(step))
			for _, at := range []*time.Time{&a.Since, &a.Began, &a.Called, &a.Changed} { // as the station moves its alarms
				*at = at.Add(step)
			}
			if err := k.Commit(ctx, []alert.Alarm{a}, nil); err != nil {
				t.Fatal(err)
			}
			mail.change(func() { mail.fail = nil })
			pass(9 * time.Minute)
			if step < 0 && neighbour.ids() != "" {
				t.Errorf("set by %v: the neighbour was called %v after it", step, 14*time.Minute)
			}
			if mail.ids() != id(1) {
				t.Errorf("set by %v: the mail has got %q nine minutes after it could", step, mail.ids())
			}
			pass(8 * time.Minute)
			if step < 0 {
				pass(5 * time.Minute) // how old it is he learns from when he first sees it
			}
			if neighbour.ids() != id(1) {
				t.Errorf("set by %v: the neighbour has got %q a quarter of an hour after it", step, neighbour.ids())
			}
		})
	}
}

// The power goes in the middle of the neighbour's quarter of an hour: he is called as
// soon as it is back if that is over, in the rest of it if not, and never twice.
func TestThePowerGoesBeforeTheNeighbourIsCalled(t *testing.T) {
	key, err := alert.ParseKey("temperature-high.critical/room")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		off    time.Duration
		called time.Duration // after the alarm
		seen   bool
	}{{time.Minute, 15 * time.Minute, false}, {time.Hour, 65 * time.Minute, false}, {time.Hour, 0, true}} {
		synctest.Test(t, func(t *testing.T) {
			k, s, began := memory(), &server{}, time.Now()
			run := func(d time.Duration) {
				ctx, cancel := context.WithTimeout(t.Context(), d)
				defer cancel()
				outbox.NewCourier(k, []outbox.Route{{Name: "neighbour", Sender: s, After: 15 * time.Minute}}, time.Now, func(outbox.Attempt) {}).Run(ctx)
			}
			a, _ := alert.New(key, alert.Limit{High: true, At: 26}).Observe(began, 30, true)
			a, _ = a.Next()
			if err := k.Commit(t.Context(), []alert.Alarm{a}, []alert.Message{message(1, "neighbour")}); err != nil {
				t.Fatal(err)
			}
			run(5 * time.Minute)
			if c.seen {
				a, _ = a.Acknowledge(time.Now(), "keeper")
				if err := k.Commit(t.Context(), []alert.Alarm{a}, nil); err != nil {
					t.Fatal(err)
				}
			}
			pass(c.off)
			called := time.Duration(0)
			for range 40 {
				run(time.Minute) // and it restarts each minute
				if called == 0 && s.ids() != "" {
					called = time.Since(began)
				}
			}
			if (c.called == 0) != (called == 0) || called < c.called || called > c.called+time.Minute {
				t.Errorf("off for %v, seen %t: called after %v, want %v", c.off, c.seen, called, c.called)
			}
			if c.called > 0 && s.ids() != id(1) {
				t.Errorf("off for %v: it came as %s", c.off, s.ids())
			}
		})
	}
}
