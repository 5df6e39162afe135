package words

import (
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// An alarm whose value is back within its limit names no present fault, and gives no step
// that makes it worse on the other side.
func TestRecovered(t *testing.T) {
	now := time.Date(2026, 6, 9, 17, 33, 0, 0, time.UTC)
	since, ends, raised := now.Add(-6*time.Minute), now.Add(4*time.Minute), now.Add(9*time.Minute)
	zone, other := "shelf", "room"
	ptr := func(v float64) *float64 { return &v }
	alarm := func(kind string, value, limit, threshold float64) snapshot.Alarm {
		return snapshot.Alarm{Alarm: kind, AlarmPlace: snapshot.AlarmPlace{Zone: &zone}, Priority: "critical", State: "active", Stands: true,
			Value: ptr(value), Limit: ptr(limit), AlarmOutlook: snapshot.AlarmOutlook{Recovery: &snapshot.Recovery{Since: &since, EndsAt: &ends, Threshold: ptr(threshold)}}}
	}
	pending := func(zone, kind string, value, limit float64) []snapshot.PendingAlarm {
		return []snapshot.PendingAlarm{{Alarm: kind, AlarmPlace: snapshot.AlarmPlace{Zone: &zone}, Priority: "warning", RaisedAt: raised, Value: ptr(value), Limit: ptr(limit)}}
	}
	cold := alarm("temperature-low", 28, 27, 27.2)
	inside := cold
	inside.Value, inside.Recovery = ptr(27.1), &snapshot.Recovery{Threshold: ptr(27.2)}
	returned := cold
	returned.State, returned.Stands, returned.Recovery = "returned", false, &snapshot.Recovery{Threshold: ptr(27.2)}
	hot := alarm("temperature-low", 36.5, 27, 27.2)
	stands := alarm("temperature-high", 36.5, 29, 28.8)
	stands.Recovery = nil
	heat := "Do not add heat. " + firstWarm
	for name, x := range map[string]struct {
		a                            snapshot.Alarm
		n                            snapshot.Snapshot
		shape, wrong, figures, first string
	}{
		"inside the band":     {cold, snapshot.Snapshot{}, Other, "was too cold until 17:27", "now 28.0 °C, over in 4 min if it stays", firstHold},
		"in the deadband":     {inside, snapshot.Snapshot{}, Other, "was too cold", "now 27.1 °C, not over until it is above 27.2 °C", firstHold},
		"over, unseen":        {returned, snapshot.Snapshot{}, Other, "was too cold", "over; now 28.0 °C", firstHold},
		"past the other side": {hot, snapshot.Snapshot{Pending: pending(zone, "temperature-high", 36.5, 29)}, Warm, "was too cold until 17:27", "now 36.5 °C, above the limit 29.0 °C; an alarm follows in 9 min", heat},
		"another zone's":      {cold, snapshot.Snapshot{Pending: pending(other, "temperature-high", 36.5, 27.5)}, Other, "was too cold until 17:27", "now 28.0 °C, over in 4 min if it stays", firstHold},
		"past the band without an alarm": {hot, snapshot.Snapshot{Zones: []snapshot.Zone{{Zone: zone, Wanted: snapshot.Band{High: ptr(30)}}}}, Warm,
			"was too cold until 17:27", "now 36.5 °C, above the limit 30.0 °C", heat},
		"the other side's alarm stands": {hot, snapshot.Snapshot{Alarms: []snapshot.Alarm{hot, stands}}, Warm, "was too cold", "over; closes in 4 min", heat},
		"was too warm": {alarm("temperature-high", 19, 29, 28.8), snapshot.Snapshot{Pending: pending(zone, "temperature-low", 19, 27)}, Cold,
			"was too warm until 17:27", "now 19.0 °C, below the limit 27.0 °C; an alarm follows in 9 min", "Do not cool it further. " + firstCold},
		"was too dry": {alarm("humidity-low", 0.92, 0.6, 0.62), snapshot.Snapshot{Pending: pending(zone, "humidity-high", 0.92, 0.9)}, Other,
			"was too dry until 17:27", "now 92 %, above the limit 90 %; an alarm follows in 9 min", "Add no water. " + firstDamp},
		"was too damp": {alarm("humidity-high", 0.7, 0.9, 0.88), snapshot.Snapshot{}, Other, "was too damp until 17:27", "now 70 %, over in 4 min if it stays", firstHold},
	} {
		x.n.At = now
		text, figures, ok := Recovered(Reader{Place: time.UTC}, x.a, &x.n)
		if !ok || text.Shape != x.shape || text.Wrong != x.wrong || figures != x.figures || text.First != x.first {
			t.Errorf("%s: %v %q %q %q %q", name, ok, text.Shape, text.Wrong, figures, text.First)
		}
	}
	if _, _, ok := Recovered(Reader{}, stands, &snapshot.Snapshot{At: now}); ok {
		t.Error("an alarm whose value is past its limit has recovered")
	}
}

// A warning beside a value past the safe limit says when it becomes critical.
func TestPastSafe(t *testing.T) {
	now := time.Date(2026, 6, 9, 17, 33, 0, 0, time.UTC)
	value, safe := 33.5, 33.0
	warning := snapshot.Alarm{Alarm: "temperature-high", Priority: "warning", Value: &value}
	n := &snapshot.Snapshot{At: now, Pending: []snapshot.PendingAlarm{{Alarm: "temperature-high", Priority: "critical", RaisedAt: now.Add(9 * time.Minute), Limit: &safe}}}
	if got, want := PastSafe(Reader{}, warning, n), "Above safe (33.0 °C). Critical in 9 min."; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	safe = 34
	if got := PastSafe(Reader{}, warning, n); got != "" {
		t.Errorf("below safe it says %q", got)
	}
}
