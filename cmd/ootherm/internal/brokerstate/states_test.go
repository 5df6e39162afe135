package brokerstate

import (
	"encoding/json"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// The retained messages are these, byte for byte. Noise below a tenth of a degree changes
// none of them, and neither does the time alone.
func TestRetainedStates(t *testing.T) {
	v := func(x float64) *float64 { return &x }
	s := func(x string) *string { return &x }
	read := time.Date(2026, 6, 9, 14, 59, 55, 0, time.UTC)
	past, weigh := time.Date(2026, 6, 9, 14, 0, 0, 0, time.UTC), time.Date(2026, 6, 12, 8, 0, 0, 0, time.UTC)
	n := &snapshot.Snapshot{
		At: time.Date(2026, 6, 9, 15, 0, 0, 0, time.UTC),
		Boxes: []snapshot.Box{{Box: "B#1", Zone: "room/1", Medium: &snapshot.Medium{WeighNext: &weigh, Add: v(9.2)}, Clutches: []snapshot.Clutch{
			{Clutch: "S1", Dam: s("Sorrel"), State: s("incubating"), Developed: v(0.6213), Eggs: []snapshot.Egg{{Egg: "S1-1", Fate: "waiting"}, {Egg: "S1-2", Fate: "hatched"}},
				Heat:   snapshot.Heat{DegreeDays: &snapshot.DegreeDays{SoFar: 544.6, Required: 878}},
				Window: &snapshot.Window{CheckFrom: time.Date(2026, 6, 20, 13, 0, 0, 0, time.UTC), LateAfter: time.Date(2026, 7, 1, 7, 0, 0, 0, time.UTC)}},
			{Clutch: "O1", Eggs: []snapshot.Egg{{Egg: "O1-1", Fate: "hatched"}}}}}},
		Zones: []snapshot.Zone{
			{Zone: "room/1", Kind: "room", Celsius: v(21.9231), Humidity: v(0.5249), TrendPerHour: v(-2.3), Probes: []snapshot.Probe{{Probe: "shelf", Celsius: v(22.01), Status: "ok", LastGood: &read}, {Probe: "door", Celsius: v(21), Status: "stale", LastGood: &past}}},
			{Zone: "incubator", Kind: "incubator"},
		},
		Known: []snapshot.AlarmID{
			{Key: "temperature-low.warning/room%2F1", Alarm: "temperature-low", Zone: "room/1", Priority: "warning"},
			{Key: "late.notice/box:B#1/clutch:S1", Alarm: "late", Priority: "notice"},
		},
		Alarms: []snapshot.Alarm{{Key: "temperature-low.warning/room%2F1", Alarm: "temperature-low", AlarmPlace: snapshot.AlarmPlace{Zone: s("room/1"), Probe: s("shelf")}, Priority: "warning",
			State: "acknowledged", Since: time.Date(2026, 6, 9, 14, 30, 0, 0, time.UTC), Value: v(21.9231), Limit: v(22.2)}},
	}
	const at = `"at":"2026-06-09T15:00:00Z",`
	want := map[string]string{
		"zone/room%2F1":                          `{"at":"2026-06-09T14:59:55Z","zone":"room/1","kind":"room","temperature_c":21.9,"relative_humidity":0.52,"dew_point_c":null,"trend_c_per_hour":-2.5,"state":"warning","probes_without_value":["door"]}`,
		"zone/incubator":                         `{"at":null,"zone":"incubator","kind":"incubator","temperature_c":null,"relative_humidity":null,"dew_point_c":null,"trend_c_per_hour":null,"state":"unknown","probes_without_value":[]}`,
		"probe/shelf":                            `{"at":"2026-06-09T14:59:55Z","probe":"shelf","zone":"room/1","temperature_c":22,"relative_humidity":null,"status":"ok"}`,
		"probe/door":                             `{"at":"2026-06-09T14:00:00Z","probe":"door","zone":"room/1","temperature_c":null,"relative_humidity":null,"status":"stale"}`,
		"box/B%231":                              `{` + at + `"box":"B#1","zone":"room/1","clutches":["S1"],"eggs_waiting":1,"weigh_next":"2026-06-12T08:00:00Z","add_g":9}`,
		"clutch/B%231/S1":                        `{` + at + `"clutch":"S1","box":"B#1","dam":"Sorrel","state":"incubating","developed":0.62,"degree_days":545,"required_degree_days":878,"check_from":"2026-06-20T00:00:00Z","likely":null,"late_after":"2026-07-01T00:00:00Z","eggs_waiting":1}`,
		"alarm/temperature-low.warning/room%2F1": `{` + at + `"key":"temperature-low.warning/room%2F1","alarm":"temperature-low","zone":"room/1","box":null,"probe":"shelf","priority":"warning","state":"acknowledged","since":"2026-06-09T14:30:00Z","value":21.9,"limit":22.2}`,
		"alarm/late.notice/box:B%231/clutch:S1":  `{` + at + `"key":"late.notice/box:B#1/clutch:S1","alarm":"late","zone":null,"box":null,"probe":null,"priority":"notice","state":"normal","since":null,"value":null,"limit":null}`,
	}
	same := map[string]string{}
	for i, c := range []float64{21.9231, 21.8601} {
		n.Zones[0].Celsius, n.Alarms[0].Value = v(c), v(c)
		got, err := States(n, "eggs/state/")
		if err != nil {
			t.Fatal(err)
		}
		for topic, text := range want {
			x := got["eggs/state/"+topic]
			if string(x.Payload) != text {
				t.Errorf("%s is\n%s, want\n%s", topic, x.Payload, text)
			}
			if i > 0 && x.Same != same[topic] {
				t.Errorf("%s is another for its noise or its time: %s", topic, x.Same)
			}
			same[topic] = x.Same
		}
		if len(got) != len(want) {
			t.Errorf("%d topics, want %d", len(got), len(want))
		}
	}
	later := *n
	later.At = later.At.Add(time.Minute)
	later.Zones = []snapshot.Zone{n.Zones[0]}
	later.Zones[0].Probes = []snapshot.Probe{n.Zones[0].Probes[0], n.Zones[0].Probes[1]}
	later.Zones[0].Probes[0].LastGood = &later.At
	got, err := States(&later, "eggs/state/")
	if err != nil {
		t.Fatal(err)
	}
	for topic, x := range got {
		if was := same[strings.TrimPrefix(topic, "eggs/state/")]; x.Same != was {
			t.Errorf("a minute later %s is another: %s, was %s", topic, x.Same, was)
		}
	}
}

// A hub finds each value by the topic that holds it. What was announced once and is silent
// stays announced, and a clutch without eggs does not.
func TestDiscovery(t *testing.T) {
	n := &snapshot.Snapshot{
		Zones: []snapshot.Zone{{Zone: "Room 1", Humidity: snapshot.OptFloat(0.5), Probes: []snapshot.Probe{{Probe: "shelf", Status: "ok"}}}},
		Boxes: []snapshot.Box{{Box: "B1", Clutches: []snapshot.Clutch{
			{Clutch: "S1", Eggs: []snapshot.Egg{{Egg: "S1-1", Fate: "waiting"}}}, {Clutch: "O1", Eggs: []snapshot.Egg{{Egg: "O1-1", Fate: "hatched"}}}}}},
	}
	d := Discovery{Prefix: "hub", Topic: "ootherm/shed", Station: "shed", Version: "1", Moist: map[string]bool{}}
	announced := func() map[string]map[string]any {
		all, err := States(n, "ootherm/shed/state/")
		if err != nil {
			t.Fatal(err)
		}
		states := len(all)
		if err := d.Announce(n, all); err != nil {
			t.Fatal(err)
		}
		got := map[string]map[string]any{}
		for topic, x := range all {
			if !strings.HasPrefix(topic, "hub/") {
				continue
			}
			var a map[string]any
			if err := json.Unmarshal(x.Payload, &a); err != nil {
				t.Fatal(err)
			}
			if _, ok := all[a["state_topic"].(string)]; !ok {
				t.Errorf("%s is of the topic %v, which is not published", topic, a["state_topic"])
			}
			got[topic] = a
		}
		if len(got)+states != len(all) || len(got) == 0 {
			t.Errorf("%d announcements of %d messages", len(got), len(all))
		}
		return got
	}
	first := announced()
	ids := map[string]bool{}
	topic := regexp.MustCompile(`^hub/(sensor|binary_sensor)/` + d.node() + `/[a-z0-9_]+/config$`)
	for at, a := range first {
		if !topic.MatchString(at) || a["availability_topic"] != "ootherm/shed/status" || ids[a["unique_id"].(string)] {
			t.Errorf("%s: %v", at, a)
		}
		ids[a["unique_id"].(string)] = true
	}
	if len(first) != 8 { // four of the zone, one of the probe, three of the clutch
		t.Errorf("%d announcements: %v", len(first), slices.Sorted(maps.Keys(first)))
	}
	n.Zones[0].Humidity = nil
	if again := announced(); len(again) != len(first) {
		t.Errorf("a silent probe takes announcements away: %d of %d", len(again), len(first))
	}
}
