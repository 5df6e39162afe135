package notice_test

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/cmd/ootherm/internal/notice"
)

// A message names the probe that it goes by where that is not the only one of the zone.
func TestMessageNamesItsProbe(t *testing.T) {
	air, inside := notice.Probe{Name: "air", Fresh: true, Celsius: 23.3}, notice.Probe{Name: "inside", Box: "B1", Fresh: true, Celsius: 19.2, Recent: ptr(-1.2)}
	for what, x := range map[string]struct {
		key    alert.Key
		value  float64
		limit  float64
		probe  string
		probes []string
		want   string
	}{
		"a cold box":               {tooCold, 19.2, 22, "inside", []string{"air"}, "By probe inside in box B1. Second probe (air): 23.3 °C (does not agree: look at both)."},
		"the only probe":           {tooCold, 19.2, 22, "air", []string{"air"}, ""},
		"its own trend":            {tooCold, 19.2, 22, "inside", []string{"air"}, "Last ten minutes: falling 1.2 °C per hour."},
		"humidity, one of two":     {tooDry, 0.4, 0.45, "air", []string{"air", "shelf"}, "By probe air.\n"},
		"humidity, the only probe": {tooDry, 0.4, 0.45, "air", []string{"air"}, ""},
	} {
		f := notice.Facts{Now: noon, Probes: map[string]notice.Probe{"air": air, "inside": inside},
			Zones:  []notice.Zone{{Name: "room", Probes: x.probes, Boxed: []string{"inside"}, ApartK: 3, RecentKPerHour: 1}},
			Alarms: map[alert.Key]notice.Alarm{x.key: {Alarm: alert.New(x.key, alert.Limit{At: x.limit}), Probe: x.probe}}}
		body := notice.Compose(alone([]alert.Event{raised(x.key, x.value, x.limit)}), f, reader)[0].Body
		if x.want == "" && strings.Contains(body, "By probe") || !strings.Contains(body, x.want) {
			t.Errorf("%s: no %q in\n%s", what, x.want, body)
		}
	}
}

// A probe in coarse steps stood still for ten minutes, and is falling.
func TestMessageOfACoarseProbe(t *testing.T) {
	for halfHour, want := range map[float64]string{-1: "Steady for ten minutes, after falling 1.0 °C in half an hour.", -0.1: "Steady for ten minutes.\n", 0.5: "Steady for ten minutes, after rising 0.5 °C in half an hour."} {
		f := notice.Facts{Now: noon, Probes: map[string]notice.Probe{"air": {Name: "air", Fresh: true, Celsius: 21, HalfHourK: halfHour}},
			Zones:  []notice.Zone{{Name: "room", Probes: []string{"air"}}},
			Alarms: map[alert.Key]notice.Alarm{tooCold: {Alarm: alert.New(tooCold, alert.Limit{At: 22}), Probe: "air"}}}
		if body := notice.Compose(alone([]alert.Event{raised(tooCold, 21, 22)}), f, reader)[0].Body; !strings.Contains(body, want) {
			t.Errorf("no %q in\n%s", want, body)
		}
	}
}

// What came and went days ago, and has stood since, does not come and go.
func TestMessageOfWhatCameToStay(t *testing.T) {
	for what, x := range map[string]struct {
		began   time.Duration
		stands  bool
		subject string
		body    string
	}{
		"it stands for days":    {50 * time.Hour, true, "▼ ROOM too cold since 31 March", "Since 31 March 10:00 (2 d). Before that it came and went."},
		"it stands for an hour": {time.Hour, true, "▼ ROOM too cold on and off since 29 March", "Too cold comes and goes: 5 times since 29 March 12:00"},
		"it does not stand":     {50 * time.Hour, false, "▼ ROOM too cold on and off since 29 March", "Too cold comes and goes: 5 times since 29 March 12:00"},
	} {
		e := raised(tooCold, 21.2, 22)
		e.Began = ago(x.began)
		told := alone([]alert.Event{e})
		told[0].Stage, told[0].Course = episode.ComesAndGoes, episode.Course{Times: 5, Since: ago(4 * 24 * time.Hour), Known: true, Lowest: 20.9, Highest: 25.9}
		f := notice.Facts{Now: noon, Alarms: map[alert.Key]notice.Alarm{tooCold: {Alarm: alert.Alarm{Key: tooCold, True: x.stands}}}}
		m := notice.Compose(told, f, reader)[0]
		if m.Subject != x.subject || !strings.Contains(m.Body, x.body) {
			t.Errorf("%s: %q, no %q in\n%s", what, m.Subject, x.body, m.Body)
		}
	}
}

// The value of a drift's event is the limit. A message says what the probe reads.
func TestMessageOfSwingsSaysTheValueNow(t *testing.T) {
	told := alone([]alert.Event{raised(driftDown, 22, 22)})
	recurs(true)(&told[0])
	f := notice.Facts{Now: noon, Probes: map[string]notice.Probe{"air": {Name: "air", Fresh: true, Celsius: 23.6}},
		Zones:  []notice.Zone{{Name: "room", Probes: []string{"air"}}},
		Alarms: map[alert.Key]notice.Alarm{driftDown: {Alarm: alert.Alarm{Key: driftDown, True: true}, Probe: "air"}}}
	if body := notice.Compose(told, f, reader)[0].Body; !strings.Contains(body, "\nNow 23.6 °C.\n") {
		t.Errorf("the value now is missing in\n%s", body)
	}
}
