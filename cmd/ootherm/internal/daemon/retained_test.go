package daemon

import (
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// The retained messages are these, byte for byte. Noise below a tenth of a degree changes
// none of them.
func TestRetainedStates(t *testing.T) {
	v := func(x float64) *float64 { return &x }
	s := func(x string) *string { return &x }
	n := &snapshot.Snapshot{
		Zones: []snapshot.Zone{
			{Zone: "room/1", Kind: "room", Celsius: v(21.9231), Humidity: v(0.5249), TrendPerHour: v(-2.3), Probes: []snapshot.Probe{{Probe: "shelf", Status: "ok"}, {Probe: "door", Status: "stale"}}},
			{Zone: "incubator", Kind: "incubator"},
		},
		Known: []snapshot.AlarmID{
			{Key: "temperature-low.warning/room%2F1", Alarm: "temperature-low", Zone: "room/1", Priority: "warning"},
			{Key: "late.notice/box:B#1/clutch:S1", Alarm: "late", Priority: "notice"},
		},
		Alarms: []snapshot.Alarm{{Key: "temperature-low.warning/room%2F1", Alarm: "temperature-low", AlarmPlace: snapshot.AlarmPlace{Zone: s("room/1"), Probe: s("shelf")}, Priority: "warning",
			State: "acknowledged", Since: time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC), Value: v(21.9231), Limit: v(22.2)}},
	}
	want := map[string]string{
		"zone/room%2F1":                          `{"zone":"room/1","kind":"room","temperature_c":21.9,"relative_humidity":0.52,"dew_point_c":null,"trend_c_per_hour":-2.5,"state":"warning","probes_without_value":["door"]}`,
		"zone/incubator":                         `{"zone":"incubator","kind":"incubator","temperature_c":null,"relative_humidity":null,"dew_point_c":null,"trend_c_per_hour":null,"state":"normal","probes_without_value":[]}`,
		"alarm/temperature-low.warning/room%2F1": `{"key":"temperature-low.warning/room%2F1","alarm":"temperature-low","zone":"room/1","box":null,"probe":"shelf","priority":"warning","state":"acknowledged","since":"2026-06-09T14:30:00Z","value":21.9,"limit":22.2}`,
		"alarm/late.notice/box:B%231/clutch:S1":  `{"key":"late.notice/box:B#1/clutch:S1","alarm":"late","zone":null,"box":null,"probe":null,"priority":"notice","state":"normal","since":null,"value":null,"limit":null}`,
	}
	for _, c := range []float64{21.9231, 21.8601} {
		n.Zones[0].Celsius, n.Alarms[0].Value = v(c), v(c)
		got, err := retainedStates(n)
		if err != nil {
			t.Fatal(err)
		}
		for topic, text := range want {
			if string(got[topic]) != text {
				t.Errorf("%s is\n%s, want\n%s", topic, got[topic], text)
			}
		}
		if len(got) != len(want) {
			t.Errorf("%d topics, want %d", len(got), len(want))
		}
	}
}
