package outbox_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alerttest"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/alert/ratelimit"
)

var errBusy = errors.New("busy")

// pass advances the simulated time.
func pass(d time.Duration) {
	<-time.After(d)
	synctest.Wait()
}

// desk runs a courier in simulated time.
type desk struct {
	t      *testing.T
	keeper *flaky
	c      *outbox.Courier
	start  time.Time
	mu     sync.Mutex
	log    []string
}

func work(t *testing.T, k *flaky, routes ...outbox.Route) *desk {
	d := &desk{t: t, keeper: k, start: time.Now()}
	d.c = outbox.NewCourier(k, routes, time.Now, func(a outbox.Attempt) {
		d.mu.Lock()
		defer d.mu.Unlock()
		d.log = append(d.log, fmt.Sprintf("%v %s %s %s", time.Since(d.start).Round(time.Second), a.Sender, a.Message.ID, a.Outcome.Result))
	})
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { d.c.Run(ctx); close(done) }()
	t.Cleanup(func() { cancel(); <-done })
	synctest.Wait()
	return d
}

func (d *desk) commit(alarms []alert.Alarm, ms ...alert.Message) {
	d.t.Helper()
	if err := d.keeper.Commit(d.t.Context(), alarms, ms); err != nil {
		d.t.Fatal(err)
	}
	d.c.Wake()
	synctest.Wait()
}

func (d *desk) want(lines ...string) {
	d.t.Helper()
	d.mu.Lock()
	defer d.mu.Unlock()
	if got, want := strings.Join(d.log, "\n"), strings.Join(lines, "\n"); got != want {
		d.t.Errorf("attempts:\n%s\nwant:\n%s", got, want)
	}
	d.log = nil
}

func (d *desk) waiting(want int) {
	d.t.Helper()
	ms, err := d.keeper.Memory.Waiting(d.t.Context())
	if err != nil || len(ms) != want {
		d.t.Errorf("%d messages wait (%v), want %d", len(ms), err, want)
	}
}

// flaky is a store that fails when it is told to.
type flaky struct {
	*outbox.Memory
	mu   sync.Mutex
	fail error
}

func (f *flaky) set(err error) { f.mu.Lock(); defer f.mu.Unlock(); f.fail = err }
func (f *flaky) get() error    { f.mu.Lock(); defer f.mu.Unlock(); return f.fail }

func (f *flaky) Done(ctx context.Context, id string, o alert.Outcome) error {
	if err := f.get(); err != nil {
		return err
	}
	return f.Memory.Done(ctx, id, o)
}

func memory() *flaky { return &flaky{Memory: outbox.NewMemory()} }

func message(n int, sender string) alert.Message {
	return alert.Message{ID: fmt.Sprintf("temperature-high.critical/room/%d", n), Alarm: "temperature-high.critical/room",
		At: time.Now(), Priority: alert.Critical, Subject: "ROOM too warm", Body: "Since 14:07.", Sender: sender}
}

func id(n int) string { return fmt.Sprintf("temperature-high.critical/room/%d", n) }

func TestRetriesWithGrowingWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := alerttest.NewSender(t, alerttest.Step{ID: id(1), Err: errBusy}, alerttest.Step{ID: id(1), Err: errBusy},
			alerttest.Step{ID: id(1), Err: errBusy}, alerttest.Step{ID: id(1)})
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		d.commit(nil, message(1, "mail"))
		pass(time.Hour)
		d.want("0s mail "+id(1)+" retry", "15s mail "+id(1)+" retry", "45s mail "+id(1)+" retry", "1m45s mail "+id(1)+" delivered")
		d.waiting(0)
	})
}

func TestRefusedWaitsForAPerson(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := alerttest.NewSender(t, alerttest.Step{ID: id(1), Err: alert.Permanent(errors.New("no such box"))}, alerttest.Step{ID: id(1)})
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		m := message(1, "mail")
		m.Priority = alert.Warning
		d.commit(nil, m)
		pass(240 * time.Hour)
		d.want("0s mail " + id(1) + " refused")
		d.waiting(1)
		if err := d.keeper.Done(t.Context(), id(1), alert.Outcome{Result: alert.Retry, Next: time.Now()}); err != nil {
			t.Fatal(err)
		}
		d.c.Wake()
		pass(time.Second)
		d.want("240h0m0s mail " + id(1) + " delivered")
		d.waiting(0)
		if got, _ := s.Got(); !strings.HasPrefix(got[1].Body, "Delivered 10 days late") || strings.Contains(got[0].Body, "late") {
			t.Errorf("bodies %q and %q", got[0].Body, got[1].Body)
		}
	})
}

// A critical message that is refused for good is tried ten times, as a gateway may restart.
// Then it waits for a person.
func TestRefusedCriticalIsTriedAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		refused := alerttest.Step{ID: id(1), Err: alert.Permanent(errors.New("404 Not Found"))}
		s := alerttest.NewSender(t, refused, refused, alerttest.Step{ID: id(1)})
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		d.commit(nil, message(1, "mail"))
		pass(time.Hour)
		d.want("0s mail "+id(1)+" retry", "15s mail "+id(1)+" retry", "45s mail "+id(1)+" delivered")
		d.waiting(0)
	})
	synctest.Test(t, func(t *testing.T) {
		var steps []alerttest.Step
		for range 10 {
			steps = append(steps, alerttest.Step{ID: id(1), Err: alert.Permanent(errors.New("404 Not Found"))})
		}
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: alerttest.NewSender(t, steps...)})
		d.commit(nil, message(1, "mail"))
		pass(100 * time.Hour)
		d.waiting(1)
		if ms, err := d.keeper.Waiting(t.Context()); err != nil || !ms[0].Refused || ms[0].Attempts != 10 {
			t.Errorf("it waits as %+v, %v; want it refused after 10 tries", ms, err)
		}
	})
}

func TestASlowSenderHoldsUpNoOther(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		slow := alerttest.NewSender(t, alerttest.Step{ID: id(1), Hangs: true}, alerttest.Step{ID: id(1), Takes: 59 * time.Second}, alerttest.Step{ID: id(2)})
		quick := alerttest.NewSender(t, alerttest.Step{ID: id(1)}, alerttest.Step{ID: id(2)})
		d := work(t, memory(), outbox.Route{Name: "slow", Sender: slow}, outbox.Route{Name: "quick", Sender: quick})
		d.commit(nil, message(1, "slow"), message(1, "quick"))
		d.want("0s quick " + id(1) + " delivered")
		pass(61 * time.Second)
		d.want("1m0s slow " + id(1) + " retry")
		d.commit(nil, message(2, "quick"))
		d.want("1m1s quick " + id(2) + " delivered")
		pass(15 * time.Second)
		d.commit(nil, message(2, "slow"))
		pass(time.Hour)
		d.want("2m14s slow "+id(1)+" delivered", "2m14s slow "+id(2)+" delivered")
		d.waiting(0)
	})
}

func TestOneThatNobodyTakesDoesNotHoldUpTheRest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := alerttest.NewSender(t, alerttest.Step{ID: id(1), Err: errBusy}, alerttest.Step{ID: id(2)}, alerttest.Step{ID: id(1)})
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		d.commit(nil, message(1, "mail"), message(2, "mail"))
		d.want("0s mail "+id(1)+" retry", "0s mail "+id(2)+" delivered")
		pass(time.Minute)
		d.want("15s mail " + id(1) + " delivered")
	})
}

func TestAFailingStoreSendsNothingTwice(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := alerttest.NewSender(t, alerttest.Step{ID: id(1)})
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		d.keeper.set(errors.New("no space left"))
		d.commit(nil, message(1, "mail"))
		for range 50 {
			d.c.Wake()
			pass(time.Second)
		}
		d.want("0s mail "+id(1)+" delivered", "15s mail "+id(1)+" delivered", "45s mail "+id(1)+" delivered")
		d.keeper.set(nil)
		pass(time.Hour)
		d.want("1m45s mail " + id(1) + " delivered")
		d.waiting(0)
	})
}

func TestStoppedInTheMiddleItIsSentAtTheNextStart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := memory()
		s := alerttest.NewSender(t, alerttest.Step{ID: id(1), Hangs: true}, alerttest.Step{ID: id(1)})
		c := outbox.NewCourier(k, []outbox.Route{{Name: "mail", Sender: s}}, time.Now, func(outbox.Attempt) {})
		if err := k.Commit(t.Context(), nil, []alert.Message{message(1, "mail")}); err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
		defer cancel()
		c.Run(ctx)
		if ms, err := k.Waiting(t.Context()); err != nil || len(ms) != 1 || ms[0].Attempts != 0 {
			t.Errorf("after the stop: %v, %v", ms, err)
		}
		d := work(t, k, outbox.Route{Name: "mail", Sender: s})
		d.want("0s mail " + id(1) + " delivered")
		d.waiting(0)
	})
}

// The neighbour gets a critical alarm that was not acknowledged.
func TestAfter(t *testing.T) {
	const delay = 15 * time.Minute
	key, err := alert.ParseKey("temperature-high.critical/room")
	if err != nil {
		t.Fatal(err)
	}
	observe := func(v float64) func(a alert.Alarm) alert.Alarm {
		return func(a alert.Alarm) alert.Alarm { a, _ = a.Observe(time.Now(), v, true); return a }
	}
	for _, c := range []struct {
		name   string
		change func(a alert.Alarm) alert.Alarm // after 5 minutes
		edit   func(m *alert.Message)
		sent   bool
	}{
		{"not acknowledged", nil, nil, true},
		{"acknowledged", func(a alert.Alarm) alert.Alarm { a, _ = a.Acknowledge(time.Now(), "keeper"); return a }, nil, false},
		{"over by itself", observe(20), nil, false},
		{"switched off for work", func(a alert.Alarm) alert.Alarm { a, _ = a.OutOfService(time.Now()); return a }, nil, false},
		{"over, and raised again", func(a alert.Alarm) alert.Alarm {
			a = observe(20)(a)
			pass(time.Minute)
			return observe(30)(a)
		}, nil, false}, // the second has a message of its own
		{"a warning", nil, func(m *alert.Message) { m.Priority = alert.Warning }, false},
		{"the end of an alarm", nil, func(m *alert.Message) { m.Over = true }, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var steps []alerttest.Step
				want := "dropped"
				if c.sent {
					steps, want = append(steps, alerttest.Step{ID: id(1)}), "delivered"
				}
				s := alerttest.NewSender(t, steps...)
				d := work(t, memory(), outbox.Route{Name: "neighbour", Sender: s, After: delay})
				a := observe(30)(alert.New(key, alert.Limit{High: true, At: 26}))
				a, _ = a.Next()
				m := message(1, "neighbour")
				if c.edit != nil {
					c.edit(&m)
				}
				d.commit([]alert.Alarm{a}, m)
				pass(5 * time.Minute)
				if c.change != nil {
					a = c.change(a)
					d.commit([]alert.Alarm{a})
				}
				d.want()
				pass(time.Until(d.start.Add(delay + time.Second)))
				d.want("15m0s neighbour " + id(1) + " " + want)
				d.waiting(0)
			})
		})
	}
}

func TestEightProbesOfOneBusAreOneMessage(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := alerttest.NewSender(t, alerttest.Step{ID: id(1) + "+7"})
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		var all []alert.Message
		for n := range 8 {
			all = append(all, message(n+1, "mail"))
			all[n].Priority = alert.Warning
		}
		d.commit(nil, all...)
		d.waiting(0)
		if got, _ := s.Got(); !strings.Contains(got[0].Subject, "and 7 more") {
			t.Errorf("subject %q", got[0].Subject)
		}
	})
}

func TestAFailedDigestWaitsAsAWhole(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := alerttest.NewSender(t, alerttest.Step{ID: id(1) + "+6", Err: errBusy}, alerttest.Step{ID: id(1) + "+6"})
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		var all []alert.Message
		for n := range 7 {
			all = append(all, message(n+1, "mail"))
			all[n].Priority = alert.Notice
		}
		d.commit(nil, all...)
		d.waiting(7)
		pass(16 * time.Second)
		d.waiting(0)
	})
}

// A recipient gets at most the limit of messages in an hour, also over a restart. The last
// place is kept for a critical message. Past the limit, a critical digest is sent ten minutes
// after the last message.
func TestSixAnHourOverARestart(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		k := memory()
		var steps []alerttest.Step
		for n := range 5 {
			steps = append(steps, alerttest.Step{ID: id(n + 1)})
		}
		s := alerttest.NewSender(t, append(steps, alerttest.Step{ID: id(10) + "+4"}, alerttest.Step{ID: id(11) + "+1"}, alerttest.Step{ID: id(13)})...)
		news := func(n int, p alert.Priority) alert.Message {
			m := message(n, "mail")
			m.Priority = p
			return m
		}
		for life := range 3 {
			ctx, cancel := context.WithTimeout(t.Context(), 10*time.Minute)
			c := outbox.NewCourier(k, []outbox.Route{{Name: "mail", Sender: s}}, time.Now, func(outbox.Attempt) {})
			go func() {
				for n := range 3 {
					if err := k.Commit(t.Context(), nil, []alert.Message{news(3*life+n+1, alert.Warning)}); err != nil {
						t.Error(err)
					}
					c.Wake()
					<-time.After(time.Minute)
				}
			}()
			c.Run(ctx)
			cancel()
			synctest.Wait()
		}
		d := work(t, k, outbox.Route{Name: "mail", Sender: s})
		d.waiting(4)
		d.commit(nil, news(10, alert.Critical))
		d.waiting(0)
		d.commit(nil, news(11, alert.Critical))
		d.commit(nil, news(12, alert.Warning))
		pass(10*time.Minute - time.Second)
		d.waiting(2)
		pass(time.Second)
		d.waiting(0)
		d.commit(nil, news(13, alert.Warning)) // at 40 min: it waits for the third place
		pass(22*time.Minute - time.Second)
		d.waiting(1)
		pass(time.Second)
		d.waiting(0)
	})
}

func TestQuietHoursHoldBackAllButCritical(t *testing.T) {
	synctest.Test(t, func(t *testing.T) { // the bubble begins at midnight UTC
		s := alerttest.NewSender(t, alerttest.Step{ID: id(2)}, alerttest.Step{ID: id(1)})
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s, RateLimit: ratelimit.Limit{Quiet: ratelimit.Hours{From: 22 * time.Hour, To: 7 * time.Hour}}})
		warning := message(1, "mail")
		warning.Priority = alert.Warning
		d.commit(nil, warning, message(2, "mail"))
		pass(8 * time.Hour)
		d.want("0s mail "+id(2)+" delivered", "7h0m0s mail "+id(1)+" delivered")
		if got, _ := s.Got(); !strings.HasPrefix(got[1].Body, "Delivered 7 h 0 min late") {
			t.Errorf("body %q", got[1].Body)
		}
	})
}
