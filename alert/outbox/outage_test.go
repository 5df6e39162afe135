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

// server is a receiver that a test breaks and mends.
type server struct {
	mu       sync.Mutex
	fail     error
	takes    time.Duration // before it answers, at all
	drops    bool          // what it took it does not answer for
	poison   string        // a message with this in it is refused
	most     int           // bytes of a body; a longer one is refused; 0: any goes
	attempts int
	got      []alert.Message
}

func (s *server) Send(ctx context.Context, m alert.Message) error {
	s.mu.Lock()
	s.attempts++
	takes := s.takes
	s.mu.Unlock()
	select {
	case <-time.After(takes):
	case <-ctx.Done():
		return ctx.Err()
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.fail != nil {
		return s.fail
	}
	if s.poison != "" && strings.Contains(m.Body, s.poison) {
		return alert.Permanent(errors.New("it says something we do not like"))
	}
	if s.most > 0 && len(m.Body) > s.most {
		return alert.Permanent(errors.New("it is too large"))
	}
	s.got = append(s.got, m)
	if s.drops {
		return errors.New("the connection was lost")
	}
	return nil
}

// change breaks or mends it.
func (s *server) change(how func()) {
	s.mu.Lock()
	defer s.mu.Unlock()
	how()
}

func (s *server) ids() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var all []string
	for _, m := range s.got {
		all = append(all, m.ID)
	}
	return strings.Join(all, " ")
}

// warn is a message with a body of its own.
func warn(n int) alert.Message {
	m := message(n, "mail")
	m.Priority, m.Body = alert.Warning, fmt.Sprintf("body %d\n", n)
	return m
}

// A mail server that is down for twelve hours is tried at least once an hour and
// not all the time; when it is back all that it missed comes as one message, within
// the hour, and says in its first line that it is late.
func TestTwelveHoursWithoutAServer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &server{fail: errors.New("connection refused")}
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		d.commit(nil, warn(1))
		pass(2 * time.Hour)
		d.commit(nil, message(2, "mail"))
		pass(9 * time.Hour)
		d.commit(nil, warn(3))
		pass(time.Hour)
		d.waiting(3)
		if s.attempts < 13 || s.attempts > 40 {
			t.Errorf("%d tries in twelve hours", s.attempts)
		}
		s.change(func() { s.fail = nil })
		pass(time.Hour + time.Minute)
		d.waiting(0)
		if s.ids() != id(2)+"+2" {
			t.Fatalf("came %s, want one message with all three", s.ids())
		}
		m := s.got[0]
		first, _, _ := strings.Cut(m.Body, "\n")
		if !strings.HasPrefix(first, "Delivered 12 h") && !strings.HasPrefix(first, "Delivered 13 h") || m.Priority != alert.Critical {
			t.Errorf("%s begins with %q", m.Priority, first)
		}
		for _, part := range []string{"body 1", "Since 14:07.", "body 3"} {
			if !strings.Contains(m.Body, part) {
				t.Errorf("the message lacks %q:\n%s", part, m.Body)
			}
		}
	})
}

// Something new gets through: so does at once what had to wait for an hour more.
func TestOneThatGetsThroughTakesTheOthersAlong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &server{fail: errors.New("connection refused")}
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		d.commit(nil, warn(1), warn(2))
		pass(6*time.Hour + 5*time.Minute)
		s.change(func() { s.fail = nil })
		d.commit(nil, warn(3))
		if want := id(3) + " " + id(1) + "+1"; s.ids() != want {
			t.Errorf("came %s, want %s", s.ids(), want)
		}
		d.waiting(0)
	})
}

// Of a digest that is refused one part is to blame: it waits for a person, the
// others get out.
func TestOneRefusedPartHoldsUpNoOther(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &server{fail: errors.New("connection refused")}
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		d.commit(nil, warn(1), warn(2), warn(3))
		pass(3 * time.Hour)
		s.change(func() { s.fail, s.poison = nil, "body 2" })
		pass(2 * time.Hour)
		if want := id(1) + " " + id(3); s.ids() != want {
			t.Errorf("came %s, want %s", s.ids(), want)
		}
		if ms, err := d.keeper.Memory.Waiting(t.Context()); err != nil || len(ms) != 1 || ms[0].ID != id(2) || !ms[0].Refused {
			t.Errorf("there wait %+v (%v), want the refused one", ms, err)
		}
	})
}

// Hours without a network leave a full outbox. What takes no large message, or one
// part of it never, gets it all within hours in a few messages, what is critical first,
// and hears of something new at once.
func TestAFullOutboxGetsOut(t *testing.T) {
	for name, c := range map[string]struct {
		most   int
		poison string
		left   int
	}{"any size": {}, "small ones alone": {most: 4000}, "one part is refused": {poison: "body 46\n", left: 1}} {
		synctest.Test(t, func(t *testing.T) {
			s := &server{fail: errors.New("no network"), takes: time.Second}
			d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
			for n := range 120 {
				m := warn(n + 1)
				if n%15 == 0 {
					m.Priority = alert.Critical
				}
				d.commit(nil, m)
				pass(5 * time.Minute)
			}
			s.change(func() { s.fail, s.most, s.poison = nil, c.most, c.poison })
			pass(time.Hour)
			fresh := message(121, "mail")
			d.commit(nil, fresh)
			pass(10 * time.Minute)
			s.change(func() {
				told := false
				for _, m := range s.got {
					told = told || strings.HasPrefix(m.ID, id(121)) || strings.Contains(m.Body, fresh.Body)
				}
				if !told {
					t.Errorf("%s: of something new nothing came within ten minutes", name)
				}
			})
			pass(5 * time.Hour)
			d.waiting(c.left)
			s.change(func() {
				if len(s.got) == 0 || len(s.got) > 40 {
					t.Fatalf("%s: it came in %d messages", name, len(s.got))
				}
				// The one whose try is due may be any; all others come with or after it.
				if m := s.got[min(1, len(s.got)-1)]; m.Priority != alert.Critical {
					t.Errorf("%s: second came %s", name, m.ID)
				}
				for _, m := range s.got {
					if len(m.Body) > 60_000 {
						t.Errorf("%s: one of %d bytes", name, len(m.Body))
					}
				}
			})
		})
	}
}

// A server that takes the mail and hangs up without an answer gets it again under
// the same identity, and no other; so does one that never answers.
func TestAServerThatDropsOrHangs(t *testing.T) {
	for name, s := range map[string]*server{"drops": {drops: true}, "never answers": {takes: time.Hour}} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
				d.commit(nil, message(1, "mail"))
				pass(10 * time.Minute)
				d.waiting(1)
				if s.attempts < 4 || s.attempts > 8 {
					t.Errorf("%d tries in ten minutes", s.attempts)
				}
				s.change(func() { s.drops, s.takes = false, 0 })
				pass(time.Hour)
				d.waiting(0)
				for _, m := range s.got {
					if m.ID != id(1) {
						t.Errorf("it came as %s", m.ID)
					}
				}
			})
		})
	}
}

// A receiver that asks to be left alone for twenty minutes is, and is then tried.
func TestAReceiverThatSaysWhenToComeAgain(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := alerttest.NewSender(t, alerttest.Step{ID: id(1), Err: fmt.Errorf("hook: %w", alert.NotBefore(errBusy, 20*time.Minute))}, alerttest.Step{ID: id(1), Err: errBusy},
			alerttest.Step{ID: id(1)})
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		d.commit(nil, message(1, "mail"))
		pass(time.Hour)
		d.want("0s mail "+id(1)+" retry", "20m0s mail "+id(1)+" retry", "20m30s mail "+id(1)+" delivered")
	})
}

// down refuses connections, and takes the message where it is tried a thousand times.
type down struct{ attempts int }

func (d *down) Send(context.Context, alert.Message) error {
	if d.attempts++; d.attempts > 1000 {
		return nil
	}
	return errors.New("connection refused")
}

// While a server is down, a message is tried at its own times, and not again and again because
// another one waits that does not go with it: the end of its alarm, or one that waits for the
// morning.
func TestOneThatWaitsDoesNotHurryAnother(t *testing.T) {
	silent := alert.Key{Kind: alert.ProbeSilent, Priority: alert.Warning, Zone: "room", Probe: "air"}
	for name, c := range map[string]struct {
		quiet ratelimit.Hours
		tell  func(d *desk, began time.Time)
	}{
		"the end of an alarm": {tell: func(d *desk, began time.Time) {
			for n := 1; n <= 2; n++ {
				m := warn(n)
				m.At, m.Alarm, m.Over = time.Now(), silent.String(), n == 2
				m.Threads = []alert.Thread{alert.NewThread(silent, "room", began)}
				d.commit(nil, m)
				pass(150 * time.Minute)
			}
		}},
		"quiet hours": {ratelimit.Hours{From: 2 * time.Hour, To: 8 * time.Hour}, func(d *desk, _ time.Time) {
			for n := 1; n <= 2; n++ {
				m := message(n, "mail")
				m.At = time.Now()
				if n == 1 {
					m.Priority = alert.Warning
				}
				d.commit(nil, m)
				pass(150 * time.Minute)
			}
		}},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := &down{}
				d := work(t, memory(), outbox.Route{Name: "mail", Sender: s, RateLimit: ratelimit.Limit{Quiet: c.quiet}})
				c.tell(d, time.Now())
				d.waiting(2)
				if s.attempts < 5 || s.attempts > 40 {
					t.Errorf("%d tries in five hours", s.attempts)
				}
			})
		})
	}
}

// sour refuses for good what is several messages in one, and has no time for a single one. It
// takes all once it was tried a thousand times.
type sour struct {
	attempts int
	at       map[time.Time]int // how many of them in a second
}

func (s *sour) Send(_ context.Context, m alert.Message) error {
	if s.attempts++; s.attempts > 1000 {
		return nil
	}
	s.at[time.Now().Truncate(time.Second)]++
	if len(m.Parts) > 1 {
		return alert.Permanent(errors.New("it is too large"))
	}
	return errBusy
}

// A digest is refused, and then the server is down for its parts: each part is tried at its own
// times.
func TestAPartOfARefusedDigestDoesNotHurryTheOthers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		began := time.Now()
		s := &sour{at: map[time.Time]int{}}
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		key := alert.Key{Kind: alert.ProbeSilent, Priority: alert.Warning, Zone: "room", Probe: "air"}
		for n := 1; n <= 6; n++ {
			m := warn(n)
			if n == 3 {
				m = message(n, "mail")
			}
			if n > 3 { // of one episode
				m.Alarm, m.Threads = key.String(), []alert.Thread{alert.NewThread(key, "room", began)}
			}
			d.commit(nil, m)
		}
		pass(12 * time.Hour)
		d.waiting(6)
		if s.attempts < 60 {
			t.Errorf("%d tries in twelve hours", s.attempts)
		}
		// Six parts, and a digest of them that is cut two or three times.
		for second, n := range s.at {
			if n > 15 {
				t.Errorf("%d tries in the second %s after the first", n, second.Sub(began))
			}
		}
	})
}
