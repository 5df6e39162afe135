package rules_test

import (
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
)

// WHO's specification of shipping indicators, from memory: single events at or
// below -0.5 C for 60 min and at 45 C for 1 h, cumulative 30 C for 10 h.
func TestSingleEventAndCumulative(t *testing.T) {
	type run struct {
		minutes int
		celsius float64
	}
	dips := func(n, minutes int) (r []run) {
		r = append(r, run{10, 4})
		for range n {
			r = append(r, run{minutes, -0.6}, run{120, 4})
		}
		return r
	}
	for _, c := range []struct {
		name        string
		high        bool
		at          float64
		limit       time.Duration
		cumulative  bool
		runs        []run
		fires       bool
		total, most time.Duration
	}{
		{"dips under 1 h each, 3.5 h in all: the single event stays silent", false, -0.5, time.Hour, false, dips(7, 30), false, 210 * time.Minute, 29 * time.Minute},
		{"dips under 1 h each, 3.5 h in all: three hours cumulative fire", false, -0.5, 3 * time.Hour, true, dips(7, 30), true, 210 * time.Minute, 29 * time.Minute},
		{"dips of 2.5 h in all: three hours cumulative stay silent", false, -0.5, 3 * time.Hour, true, dips(5, 30), false, 150 * time.Minute, 29 * time.Minute},
		{"at the limit for 60 min", false, -0.5, time.Hour, false, []run{{10, 4}, {61, -0.5}}, true, 60*time.Minute + 30*time.Second, time.Hour},
		{"at the limit for 59 min", false, -0.5, time.Hour, false, []run{{10, 4}, {60, -0.5}, {10, 4}}, false, time.Hour, 59 * time.Minute},
		{"30 C for 10 h in two halves", true, 30, 10 * time.Hour, true, []run{{10, 20}, {300, 30}, {600, 29.9}, {300, 31}, {10, 20}}, true, 10 * time.Hour, 299 * time.Minute},
		{"29.9 C for 20 h", true, 30, 10 * time.Hour, true, []run{{1200, 29.9}}, false, 0, 0},
		{"45 C for 1 h", true, 45, time.Hour, false, []run{{10, 30}, {61, 45}}, true, 60*time.Minute + 30*time.Second, time.Hour},
		{"45 C for two half hours", true, 45, time.Hour, false, []run{{10, 30}, {31, 45}, {1, 44}, {31, 45}, {10, 30}}, false, 62 * time.Minute, 30 * time.Minute},
	} {
		t.Run(c.name, func(t *testing.T) {
			kind := alert.SingleEvent
			if c.cumulative {
				kind = alert.Cumulative
			}
			d := rules.Dose{High: c.high, At: c.at}
			a := alert.New(alert.Key{Kind: kind, Priority: alert.Critical, Zone: "room"}, alert.Limit{High: true, At: c.limit.Seconds()})
			minute, fired := 0, false
			for _, r := range c.runs {
				for range r.minutes {
					d = d.Observe(start.Add(time.Duration(minute)*time.Minute), r.celsius, true)
					seconds := d.Longest
					if c.cumulative {
						seconds = d.Total
					}
					a, _ = a.Observe(start.Add(time.Duration(minute)*time.Minute), seconds.Seconds(), true)
					fired = fired || a.State == alert.Active
					minute++
				}
			}
			if fired != c.fires || d.Total != c.total || d.Longest != c.most {
				t.Errorf("fired %v, %v in all, %v unbroken; want %v, %v, %v", fired, d.Total, d.Longest, c.fires, c.total, c.most)
			}
		})
	}
}

func TestDoseAcrossHoles(t *testing.T) {
	d := rules.Dose{High: true, At: 30}
	d = d.Observe(start, 31, true)
	for s := 60; s < 3600; s += 60 {
		d = d.Observe(start.Add(time.Duration(s)*time.Second), 0, false)
	}
	if d.Total != 0 || d.Present() != 0 {
		t.Errorf("a hole without an end counts %v, %v", d.Total, d.Present())
	}
	d = d.Observe(start.Add(3600*time.Second), 31, true)
	if d.Total != time.Hour || d.Present() != time.Hour {
		t.Errorf("a hole of 1 h with both ends beyond counts %v in all, %v unbroken", d.Total, d.Present())
	}
	d = d.Observe(start.Add(3000*time.Second), 31, true) // the clock was set back
	d = d.Observe(start.Add(3060*time.Second), 29, true)
	if d.Total != time.Hour+30*time.Second || d.Present() != 0 || d.Longest != time.Hour {
		t.Errorf("after a step back %v in all, %v now, longest %v", d.Total, d.Present(), d.Longest)
	}
}
