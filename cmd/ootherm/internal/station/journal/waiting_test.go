package journal

import (
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"github.com/google/go-cmp/cmp"
)

// Of a sender's messages the earliest try counts, and those that are refused for good count
// apart.
func TestAddWaiting(t *testing.T) {
	at := time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC)
	d := snapshot.Delivery{Sender: "hook"}
	for _, m := range []alert.Message{
		{}, {Next: at.Add(time.Hour), Attempts: 1, LastErr: "busy", Priority: alert.Notice, At: at.Add(-time.Hour)},
		{Next: at, Attempts: 1, LastErr: "404", Priority: alert.Warning, At: at}, {Priority: alert.Critical, At: at.Add(-time.Hour)},
		{Refused: true, LastErr: "too large"},
	} {
		d = addWaiting(d, m)
	}
	said := "too large"
	want := snapshot.Delivery{Sender: "hook", Waiting: 4, NextTry: &at, Refused: 1, Err: &said, AlarmsFailSince: &at}
	if diff := cmp.Diff(want, d); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}
