package outbox_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/alert/alerttest"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/alert/ratelimit"
)

// A message that is late told its hour in UTC, beside a body in the hour of the room.
func TestALateMessageTellsTheHourOfTheRoom(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		where := time.FixedZone("EDT", -4*3600)
		m := message(1, "mail")
		m.At = time.Now().UTC().Add(-5 * time.Hour)
		s := alerttest.NewSender(t, alerttest.Step{ID: id(1)})
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: s, RateLimit: ratelimit.Limit{Where: where}})
		d.commit(nil, m)
		want := "this was at " + m.At.In(where).Format("2006-01-02 15:04 MST") + "."
		if got, _ := s.Got(); len(got) != 1 || !strings.Contains(got[0].Body, want) {
			t.Errorf("sent %v, want %q in its first line", got, want)
		}
	})
}
