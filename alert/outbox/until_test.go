package outbox_test

import (
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alerttest"
	"example.com/ootherm/alert/outbox"
)

// A message with an Until is tried until then, and dropped; it is never
// sent late.
func TestWhatNobodyWantsLaterIsDropped(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var steps []alerttest.Step
		for range 8 {
			steps = append(steps, alerttest.Step{ID: id(1), Err: errBusy})
		}
		d := work(t, memory(), outbox.Route{Name: "mail", Sender: alerttest.NewSender(t, steps...)})
		m := message(1, "mail")
		m.Priority, m.Until = alert.Notice, time.Now().Add(time.Hour)
		d.commit(nil, m)
		pass(59 * time.Minute)
		d.waiting(1)
		pass(time.Hour)
		d.waiting(0)
	})
}
