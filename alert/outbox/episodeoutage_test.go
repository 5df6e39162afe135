package outbox_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
)

// A mail server is down for nine hours of one failure: what waited comes as one message that
// begins with the newest figure, and names what was before it. The budget is three messages.
func TestOneFailureWithoutAServer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := &server{fail: errors.New("connection refused")}
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s})
		key := alert.Key{Kind: alert.TemperatureLow, Priority: alert.Critical, Zone: "room"}
		began := time.Now()
		tell := func(n int, priority alert.Priority, subject string) {
			m := message(n, "mail")
			m.At, m.Alarm, m.Priority, m.Subject, m.Body = time.Now(), key.String(), priority, subject, subject+"\nCritical: go now.\n"
			m.Threads = []alert.Thread{alert.NewThread(key, key.Zone, began)}
			d.commit(nil, m)
		}
		tell(1, alert.Warning, "▼ ROOM getting too cold: 22.0 °C 08:40")
		pass(time.Hour)
		for n := 2; n <= 9; n++ {
			tell(n, alert.Critical, fmt.Sprintf("▼ CRITICAL ROOM too cold: %.1f °C (limit 20.0)", 20-0.4*float64(n)))
			pass(time.Hour)
		}
		s.change(func() { s.fail = nil })
		pass(time.Hour)
		d.waiting(0)
		if len(s.got) == 0 || len(s.got) > 3 {
			t.Fatalf("%d messages came, want 1 to 3: %s", len(s.got), s.ids())
		}
		m := s.got[0]
		if m.Subject != "▼ CRITICAL ROOM too cold: 16.4 °C (limit 20.0)" || m.Priority != alert.Critical {
			t.Errorf("the newest is 16.4, and it says %q (%s)", m.Subject, m.Priority)
		}
		if !strings.Contains(m.Body, "getting too cold: 22.0") || strings.Count(m.Body, "go now") != 1 {
			t.Errorf("what was before is named once, in a line each:\n%s", m.Body)
		}
	})
}
