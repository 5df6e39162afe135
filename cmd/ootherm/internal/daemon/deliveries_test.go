package daemon

import (
	"errors"
	"maps"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/metrics"
	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// The heartbeat's trouble lasts from its first failure in a row, with the last error; a beat
// that got out ends it.
func TestHeartbeatsAreRecorded(t *testing.T) {
	var d deliveries
	if last, tried := d.lastHeartbeat(); tried || last.Err != "" {
		t.Fatalf("before the first: %+v, %v", last, tried)
	}
	at := time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)
	for i, c := range []struct {
		err   error
		since int // minute
		want  string
	}{{nil, -1, ""}, {errors.New("no route"), 1, "no route"}, {errors.New("404"), 1, "404"}, {nil, -1, ""}, {errors.New("404"), 4, "404"}} {
		d.recordHeartbeat(c.err, at.Add(time.Duration(i)*time.Minute))
		last, tried := d.lastHeartbeat()
		since := time.Time{}
		if c.since >= 0 {
			since = at.Add(time.Duration(c.since) * time.Minute)
		}
		if !tried || last.Err != c.want || !last.Since.Equal(since) {
			t.Errorf("beat %d: %+v, %v", i, last, tried)
		}
	}
}

// Every sender has a count of every result, from zero; a message that could not be read is
// no attempt of its sender.
func TestAttemptsAreCounted(t *testing.T) {
	var d deliveries
	m := alert.Message{ID: "a/1"}
	for _, a := range []outbox.Attempt{
		{Sender: "mail", Message: m, Outcome: alert.Outcome{Result: alert.Retry}, Err: errors.New("no route")},
		{Sender: "mail", Message: m, Outcome: alert.Outcome{Result: alert.Delivered}},
		{Sender: "mail", Message: m, Outcome: alert.Outcome{Result: alert.Delivered}},
		{Sender: "hook", Message: m, Outcome: alert.Outcome{Result: alert.Refused}, Err: errors.New("410")},
		{Sender: "hook", Err: errors.New("the store is closed")},
	} {
		d.record(a)
	}
	got := d.attemptsOf([]plan.Sender{{Name: "mail"}, {Name: "hook"}})
	want := map[metrics.Attempt]int{
		{Sender: "mail", Result: "delivered"}: 2, {Sender: "mail", Result: "retry"}: 1, {Sender: "mail", Result: "refused"}: 0, {Sender: "mail", Result: "dropped"}: 0,
		{Sender: "hook", Result: "delivered"}: 0, {Sender: "hook", Result: "retry"}: 0, {Sender: "hook", Result: "refused"}: 1, {Sender: "hook", Result: "dropped"}: 0,
	}
	if !maps.Equal(got, want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
