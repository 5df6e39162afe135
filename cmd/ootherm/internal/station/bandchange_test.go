package station_test

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// A band that is changed while its alarm stands, by the configuration or by the hour:
// the alarm is judged by the new one, is not sent again, and where only that ends it,
// its end says so.
func TestABandThatChangesUnderAStandingAlarm(t *testing.T) {
	low := func(v float64) func(*plan.Plan) {
		return func(p *plan.Plan) { b := *p.Zones[0].Wanted; b.Low = &v; p.Zones[0].Wanted = &b }
	}
	const changed = "The limit was changed from 72.0 °F to 68.9 °F meanwhile; by the one before it would still stand."
	for name, c := range map[string]struct {
		plan   func(*plan.Plan) // at the start
		change func(*plan.Plan) // before a restart half an hour later
		celsius,
		after float64 // an hour later
		ends string // empty: not at all
		says string // empty: nothing of a change
	}{
		"wider":                  {nil, low(20.5), 21.5, 21.5, "● ROOM within its new limit", changed},
		"wider, and warmer":      {nil, low(20.5), 20, 23.3, "● ROOM back in order", ""},
		"wider, and as cold":     {nil, low(20.5), 20, 20, "", ""},
		"narrower":               {nil, low(23), 21.5, 21.5, "", ""},
		"narrower, and back":     {nil, low(23), 21.5, 23.9, "● ROOM back in order", ""},
		"narrower, by the old":   {nil, low(23), 21.5, 22.9, "", ""},
		"by the hour":            {fromEight(20.5), nil, 21.5, 21.5, "● ROOM within its new limit", changed},
		"by the hour and a stop": {fromEight(20.5), func(*plan.Plan) {}, 21.5, 21.5, "● ROOM within its new limit", changed},
	} {
		t.Run(name, func(t *testing.T) {
			p := testPlan(t)
			if c.plan != nil {
				c.plan(&p)
			}
			b := newBench(t, p) // at 19:00
			for i := range 180 {
				at := began.Add(time.Duration(i) * time.Minute)
				if i == 40 && c.change != nil {
					b.options.Plan = *clone(b.options.Plan, c.change)
					b.start(at)
				}
				v := c.celsius
				if i >= 100 {
					v += min(1, float64(i-100)*0.1) * (c.after - c.celsius)
				}
				b.observe(at, map[string]float64{"air": v, "dummy": v + 0.3, "warm": 27})
			}
			if n := len(b.raised("temperature-low")); n != 1 {
				t.Errorf("raised %d times, want once: %v", n, subjects(b.waiting()))
			}
			ends := b.over("temperature-low.warning/room")
			if c.ends == "" {
				if len(ends) > 0 {
					t.Errorf("it ended:\n%s", ends[0].Body)
				}
				return
			}
			if len(ends) != 1 || !strings.HasPrefix(ends[0].Subject, c.ends) || !strings.Contains(ends[0].Body, c.says) || c.says == "" && strings.Contains(ends[0].Body, "changed") {
				t.Errorf("it ends with %+v\nwant %s and %q", ends, c.ends, c.says)
			}
		})
	}
}

// fromEight lowers the wanted band's low end from 20:00 to 23:00.
func fromEight(v float64) func(*plan.Plan) {
	return func(p *plan.Plan) {
		whole := *p.Zones[0].Wanted
		night := whole
		night.Low = &v
		whole.Spells = []config.Spell{{From: 20 * time.Hour, To: 23 * time.Hour, Band: night}}
		p.Zones[0].Wanted = &whole
	}
}
