package alert_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/digest"
)

// The alarms of one side of a zone share an episode, whatever their kind and priority, and
// those of another side, zone or beginning do not.
func TestThreadIdentity(t *testing.T) {
	low := alert.Key{Kind: alert.TemperatureLow, Priority: alert.Critical, Zone: "egg/room"}
	of := func(k alert.Key, began time.Time) string { return alert.NewThread(k, k.Zone, began).ID }
	want := "egg%2Froom/too-cold/20260402T190000Z"
	drift, other, warm := low, low, low
	drift.Kind, drift.Priority = alert.DriftDown, alert.Warning
	other.Zone, warm.Kind = "egg", alert.DriftUp
	for k, same := range map[alert.Key]bool{low: true, drift: true, other: false, warm: false} {
		if got := of(k, start); (got == want) != same {
			t.Errorf("%s: %s", k, got)
		}
	}
	if got := of(low, start.Add(time.Second)); got == want {
		t.Error("the next episode has the same identity")
	}
	silent := alert.Key{Kind: alert.ProbeSilent, Priority: alert.Warning, Zone: "room", Probe: "air"}
	if got := of(silent, start); got != "probe-silent.warning/room/probe:air/20260402T190000Z" {
		t.Errorf("an alarm without a side: %s", got)
	}
}

func TestSidesAndTheirKinds(t *testing.T) {
	for _, s := range []alert.Side{alert.TooCold, alert.TooWarm, alert.TooDry, alert.TooDamp} {
		if got := s.Kind().Side(); got != s {
			t.Errorf("%s: its kind is on the side %q", s, got)
		}
	}
	if k := alert.Side("").Kind(); k != "" {
		t.Errorf("no side has the kind %q", k)
	}
}

// A message that was stored before there were threads is read, and belongs to no episode.
func TestMessageStoredWithoutThreads(t *testing.T) {
	const old = `{"id":"temperature-low.warning/room/7","alarm":"temperature-low.warning/room","at":"2026-04-02T19:00:00Z",
		"priority":"warning","subject":"▼ ROOM too cold: 19.0 °C","body":"Since 18:50.\n","over":false,"sender":"mail",
		"attempts":2,"next":"2026-04-02T19:05:00Z","refused":false,"last_error":"busy"}`
	var m alert.Message
	if err := json.Unmarshal([]byte(old), &m); err != nil {
		t.Fatal(err)
	}
	if m.ID != "temperature-low.warning/room/7" || m.Attempts != 2 || m.Episode() != "" || m.Stemmed() != m.Subject {
		t.Errorf("%+v", m)
	}
	var p struct {
		Episode  *string
		Episodes []alert.Thread
	}
	b, err := m.Payload("shed")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &p); err != nil || p.Episode == nil || *p.Episode != "" || p.Episodes == nil || len(p.Episodes) > 0 {
		t.Errorf("%s: %v", b, err)
	}
}

func TestThreadsAreStored(t *testing.T) {
	m := alert.Message{ID: "x/1", Threads: []alert.Thread{alert.NewThread(room, "room", start)}}
	b, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	var got alert.Message
	if err := json.Unmarshal(b, &got); err != nil || !slices.Equal(got.Threads, m.Threads) {
		t.Errorf("stored %+v, read %+v (%v)", m.Threads, got.Threads, err)
	}
}

// A digest has every thread once, as the newest message tells it.
func TestDigestCarriesEveryThread(t *testing.T) {
	thread := func(zone string, over bool) alert.Thread {
		k := room
		k.Zone = zone
		x := alert.NewThread(k, zone, start)
		x.Over = over
		return x
	}
	m := func(minutes int, threads ...alert.Thread) alert.Message {
		return alert.Message{ID: fmt.Sprintf("x/%d", minutes), At: start.Add(time.Duration(minutes) * time.Minute), Priority: alert.Warning, Threads: threads}
	}
	d := digest.Of([]alert.Message{
		m(9, thread("room", true)), m(1, thread("room", false), thread("shelf", false)), m(3), m(5, thread("shelf", true)), m(7, thread("attic", false)),
	})
	want := []alert.Thread{thread("room", true), thread("shelf", true), thread("attic", false)}
	if !slices.Equal(d.Threads, want) {
		t.Errorf("threads %+v", d.Threads)
	}
	var told struct{ Messages []string }
	if b, err := d.Payload("shed"); err != nil || json.Unmarshal(b, &told) != nil || !slices.Equal(told.Messages, []string{"x/9", "x/1", "x/3", "x/5", "x/7"}) {
		t.Errorf("it tells %q (%v)", told.Messages, err)
	}
}

func TestSubjectHasTheStem(t *testing.T) {
	m := alert.Message{Threads: []alert.Thread{{ID: "x", Subject: "ROOM too cold"}}}
	for subject, want := range map[string]string{
		"▼ ROOM too cold: 19.0 °C (limit 20.0)": "▼ ROOM too cold: 19.0 °C (limit 20.0)",
		"▼ ROOM getting too cold: 20.0 °C":      "▼ ROOM getting too cold: 20.0 °C [ROOM too cold]",
		"● ROOM back in order 11:05":            "● ROOM back in order 11:05 [ROOM too cold]",
	} {
		if m.Subject = subject; m.Stemmed() != want {
			t.Errorf("%q", m.Stemmed())
		}
	}
}
