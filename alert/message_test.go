package alert_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

func TestWaitGrows(t *testing.T) {
	for i, want := range []time.Duration{15 * time.Second, 15 * time.Second, 30 * time.Second, time.Minute, 2 * time.Minute,
		4 * time.Minute, 8 * time.Minute, 16 * time.Minute, 32 * time.Minute, time.Hour, time.Hour} {
		if got := alert.Wait(i); got != want {
			t.Errorf("after %d failures %v, want %v", i, got, want)
		}
	}
	if got := alert.Wait(1 << 30); got != time.Hour {
		t.Errorf("after a great many failures %v", got)
	}
}

func TestLateMessagesSaySo(t *testing.T) {
	m := alert.Message{At: start, Body: "Since 14:07.\nPeak 25.9.\n"}
	if got := m.Dated(start.Add(time.Hour)); got.Body != m.Body {
		t.Errorf("an hour late: %q", got.Body)
	}
	for d, want := range map[time.Duration]string{
		time.Hour + time.Second:  "Delivered 1 h 0 min late: this was at 2026-04-02 19:00 UTC.",
		time.Hour + time.Minute:  "Delivered 1 h 1 min late: this was at 2026-04-02 19:00 UTC.",
		26*time.Hour + time.Hour: "Delivered 27 h 0 min late: this was at 2026-04-02 19:00 UTC.",
		75 * time.Hour:           "Delivered 3 days late: this was at 2026-04-02 19:00 UTC.",
	} {
		got := m.Dated(start.Add(d))
		first, rest, _ := strings.Cut(got.Body, "\n")
		if first != want || rest != m.Body {
			t.Errorf("%v late: %q", d, got.Body)
		}
	}
	if m.Body != "Since 14:07.\nPeak 25.9.\n" {
		t.Errorf("the message itself was changed: %q", m.Body)
	}
}

func TestPermanentKeepsItsCause(t *testing.T) {
	cause := errors.New("no such mailbox")
	err := alert.Permanent(cause)
	if !errors.Is(err, cause) || !errors.Is(err, alert.ErrPermanent) || err.Error() != cause.Error() {
		t.Errorf("%v", err)
	}
}

func TestSequenceNamesMessages(t *testing.T) {
	a := alert.New(room, above)
	for _, want := range []string{"temperature-high.warning/room/1", "temperature-high.warning/room/2"} {
		var id string
		if a, id = a.Next(); id != want {
			t.Errorf("%s, want %s", id, want)
		}
	}
}
