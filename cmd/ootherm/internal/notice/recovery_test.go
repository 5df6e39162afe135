package notice_test

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/notice"
)

// An alarm that is shown again while its value is back names no present fault, and its
// first step does not make the other side worse.
func TestMessageOfRecoveredAlarm(t *testing.T) {
	e := raised(tooCold, 36.5, 27)
	high := 29.0
	f := notice.Facts{Now: noon, Zones: []notice.Zone{{Name: "room", Banded: true, High: &high}}, Alarms: map[alert.Key]notice.Alarm{
		tooCold: {Alarm: alert.Alarm{Key: tooCold, True: true, Limit: alert.Limit{At: 27}, Times: alert.Times{Clearing: ago(5 * time.Minute)}}},
	}}
	m := notice.Compose(alone([]alert.Event{e}), f, reader)[0]
	if want := "▼ ROOM was too cold until 11:55: now 36.5 °C (limit 27.0)"; m.Subject != want {
		t.Errorf("the subject is %q, want %q", m.Subject, want)
	}
	if !strings.Contains(m.Body, "First: Do not add heat.") || strings.Contains(m.Body, "Warm slowly") || strings.Contains(m.Body, "warmer room") {
		t.Errorf("the first step is wrong in\n%s", m.Body)
	}
	e.Value = 28
	if m := notice.Compose(alone([]alert.Event{e}), f, reader)[0]; !strings.Contains(m.Body, "First: Change nothing while it holds") {
		t.Errorf("inside the band:\n%s", m.Body)
	}
}

// A value that is written as its limit is said to be just past it.
func TestMessageOfAValueAtItsLimit(t *testing.T) {
	for _, c := range []struct {
		celsius float64
		want    string
	}{{26.97, "▼ ROOM too cold: below 27.0 °C"}, {26.9, "▼ ROOM too cold: 26.9 °C (limit 27.0)"}} {
		e := raised(tooCold, c.celsius, 27)
		if m := notice.Compose(alone([]alert.Event{e}), notice.Facts{Now: noon}, reader)[0]; m.Subject != c.want {
			t.Errorf("the subject is %q, want %q", m.Subject, c.want)
		}
	}
}
