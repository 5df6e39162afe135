package notice_test

import (
	"strings"
	"testing"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/notice"
)

// A message names the probe that it goes by where that is not the only one of the zone.
func TestMessageNamesItsProbe(t *testing.T) {
	air, inside := notice.Probe{Name: "air", Fresh: true, Celsius: 23.3}, notice.Probe{Name: "inside", Box: "B1", Fresh: true, Celsius: 19.2}
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
		"humidity, one of two":     {tooDry, 0.4, 0.45, "air", []string{"air", "shelf"}, "By probe air.\n"},
		"humidity, the only probe": {tooDry, 0.4, 0.45, "air", []string{"air"}, ""},
	} {
		f := notice.Facts{Now: noon, Probes: map[string]notice.Probe{"air": air, "inside": inside},
			Zones:  []notice.Zone{{Name: "room", Probes: x.probes, Boxed: []string{"inside"}, ApartK: 3}},
			Alarms: map[alert.Key]notice.Alarm{x.key: {Alarm: alert.New(x.key, alert.Limit{At: x.limit}), Probe: x.probe}}}
		body := notice.Compose(alone([]alert.Event{raised(x.key, x.value, x.limit)}), f, reader)[0].Body
		if x.want == "" && strings.Contains(body, "By probe") || !strings.Contains(body, x.want) {
			t.Errorf("%s: no %q in\n%s", what, x.want, body)
		}
	}
}
