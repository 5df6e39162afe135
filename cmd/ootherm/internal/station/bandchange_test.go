package station_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
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

// setbackPlan has the room wanted at 20 to 23 C from 22:00 to 07:00, and at 23 to 26 C by day.
func setbackPlan(t *testing.T) plan.Plan {
	p := testPlan(t)
	band := func(low, high float64) plan.Band {
		b := *p.Zones[0].Wanted
		b.Low, b.High, b.Spells = &low, &high, nil
		return b
	}
	day := band(23, 26)
	day.Spells = []config.Spell{{From: 22 * time.Hour, To: 7 * time.Hour, Band: band(20, 23)}}
	p.Zones[0].Wanted = &day
	return p
}

// A setback of 3 K whose bands change with it calls nothing in ten days, over restarts at the
// turns too: the room needs 40 minutes. The first two days are learned: until then the drift
// alarm takes a setback for a failure. A heater that dies at a turn is called.
func TestBandsByTheHourCallNothing(t *testing.T) {
	for name, dies := range map[string]time.Duration{"nothing wrong": 0, "the heater dies at 07:00": 7 * time.Hour, "the heater dies at 22:00": 22 * time.Hour} {
		t.Run(name, func(t *testing.T) {
			p := setbackPlan(t)
			b := newBench(t, p)
			v, died := 24.5, time.Time{}
			for i := range 12 * 24 * 60 {
				at := began.Add(time.Duration(i) * time.Minute)
				local := p.Local(at)
				h := local.Sub(time.Date(local.Year(), local.Month(), local.Day(), 0, 0, 0, 0, local.Location()))
				if dies > 0 && died.IsZero() && i > 3*24*60 && h == dies {
					died = at
				}
				to, constant := 24.5, 40.0
				if h >= 22*time.Hour || h < 7*time.Hour {
					to = 21.5
				}
				if !died.IsZero() {
					to, constant = 15, 240
				}
				v += (to - v) / constant
				if i%(24*60) == 200 { // a quarter of an hour after 22:00
					b.start(at)
				}
				b.observe(at, map[string]float64{"air": v, "dummy": v + 0.2, "warm": 27})
				if !died.IsZero() && at.Sub(died) > 6*time.Hour {
					break
				}
			}
			messages := slices.DeleteFunc(b.waiting(), func(m alert.Message) bool { return m.At.Before(began.Add(48 * time.Hour)) })
			if dies == 0 {
				if len(messages) > 0 {
					t.Errorf("%d messages: %q", len(messages), subjects(messages))
				}
				return
			}
			if len(messages) == 0 || messages[0].At.Before(died) || messages[0].At.Sub(died) > 130*time.Minute {
				t.Errorf("it died at %v: %q", died, subjects(messages))
			}
		})
	}
}
