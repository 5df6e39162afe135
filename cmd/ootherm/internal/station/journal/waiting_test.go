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
		{}, {Next: at.Add(time.Hour), LastErr: "busy"}, {Next: at, LastErr: "404"}, {Refused: true, LastErr: "too large"},
	} {
		d = addWaiting(d, m)
	}
	said := "too large"
	want := snapshot.Delivery{Sender: "hook", Waiting: 3, NextTry: &at, Refused: 1, Err: &said}
	if diff := cmp.Diff(want, d); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}
