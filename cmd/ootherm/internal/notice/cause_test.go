package notice_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/response"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// The second probe tells whether the room, the box or the probe is the trouble. Before the eggs
// in a box can follow it tells nothing.
func TestCause(t *testing.T) {
	probe := func(name, box string, halfHour, quarter float64) notice.Probe {
		return notice.Probe{Name: name, Box: box, Fresh: true, HalfHourK: halfHour, QuarterK: quarter}
	}
	air, egg, nan := probe("air", "", -1.2, -0.6), probe("dummy", "B1", -1.2, -0.6), math.NaN()
	jumped := probe("air", "", 1.3, 0)
	jumped.Step = &response.Step{At: time.Date(2026, 4, 2, 12, 4, 0, 0, time.UTC), Kelvin: 1.3}
	for name, c := range map[string]struct {
		side   alert.Side
		probe  notice.Probe
		others []notice.Probe
		want   string
	}{
		"the eggs follow":       {alert.TooCold, air, []notice.Probe{probe("dummy", "B1", -0.4, -0.2)}, "Air and dummy in box B1 fall: it is the place, not the probe."},
		"the air holds":         {alert.TooCold, egg, []notice.Probe{probe("air", "", 0, 0)}, "Only dummy in box B1 falls, air holds: it is that box alone."},
		"the air alone":         {alert.TooCold, air, []notice.Probe{probe("dummy", "B1", 0.05, 0)}, "Only air falls, dummy in box B1 holds: it is the probe, or a door near it."},
		"the eggs may lag":      {alert.TooCold, air, []notice.Probe{probe("dummy", "B1", -0.2, -0.1)}, ""},
		"it has just begun":     {alert.TooCold, probe("air", "", -0.9, -0.8), []notice.Probe{probe("dummy", "B1", 0, 0)}, ""},
		"it moved by little":    {alert.TooCold, probe("air", "", -0.4, -0.1), []notice.Probe{probe("dummy", "B1", 0, 0)}, ""},
		"the second is silent":  {alert.TooCold, air, []notice.Probe{probe("dummy", "B1", nan, nan)}, ""},
		"it comes back":         {alert.TooWarm, air, []notice.Probe{probe("dummy", "B1", 0, 0)}, ""},
		"humidity":              {alert.TooDry, air, []notice.Probe{probe("dummy", "B1", 0, 0)}, ""},
		"a probe that jumped":   {alert.TooWarm, jumped, nil, "Air jumped up by 1.3 °C at 12:04 and holds: no heater is so fast. Probe moved or unplugged, or a door open?"},
		"it jumped another way": {alert.TooCold, jumped, nil, ""},
	} {
		if got := notice.Cause(c.side, c.probe, c.others, words.Reader{Units: words.Celsius, Place: time.UTC}); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
}
