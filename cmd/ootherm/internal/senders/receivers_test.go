package senders

import (
	"context"
	"log/slog"
	"net/http"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertmanager"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// An alert is kept while its alarm holds, or another of the same side of the zone.
func TestStands(t *testing.T) {
	room := "room"
	n := &snapshot.Snapshot{Alarms: []snapshot.Alarm{
		{Key: "drift-down.warning/room", Alarm: "drift-down", AlarmPlace: snapshot.AlarmPlace{Zone: &room}, State: "active"},
		{Key: "humidity-low.warning/room", Alarm: "humidity-low", AlarmPlace: snapshot.AlarmPlace{Zone: &room}, State: "returned"},
	}}
	for key, want := range map[string]bool{
		"drift-down.warning/room": true, "temperature-low.critical/room": true, "temperature-low.critical/attic": false,
		"temperature-high.critical/room": false, "humidity-low.warning/room": false, "clock-unverified.notice": false, "nonsense": false,
	} {
		if got := stands(n, key); got != want {
			t.Errorf("%s: %v", key, got)
		}
	}
}

// taker answers every post well, and counts them.
type taker struct{ posts atomic.Int64 }

func (x *taker) RoundTrip(*http.Request) (*http.Response, error) {
	x.posts.Add(1)
	return &http.Response{StatusCode: http.StatusOK, Body: http.NoBody}, nil
}

// A receiver gets each minute what stands, and nothing once it is over.
func TestWhatStandsIsPostedEachMinute(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const key = "temperature-high.critical/room"
		x, now := &taker{}, atomic.Pointer[snapshot.Snapshot]{}
		s, err := alertmanager.New(alertmanager.Config{URL: "http://receiver.example", Now: time.Now, Client: &http.Client{Transport: x}})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.Send(t.Context(), alert.Message{ID: key + "/1", Alarm: key, At: time.Now(), Priority: alert.Critical}); err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		go RefreshReceivers(ctx, Receivers([]outbox.Route{{Name: "fleet", Sender: s}}), now.Load, slog.New(slog.DiscardHandler))
		for _, step := range []struct {
			now  *snapshot.Snapshot
			want int64 // posts by then
		}{{nil, 1}, {&snapshot.Snapshot{Alarms: []snapshot.Alarm{{Key: key, State: "active"}}}, 6}, {&snapshot.Snapshot{}, 6}} {
			now.Store(step.now)
			<-time.After(5*time.Minute + time.Second)
			if got := x.posts.Load(); got != step.want {
				t.Errorf("%d posts, want %d", got, step.want)
			}
		}
	})
}
