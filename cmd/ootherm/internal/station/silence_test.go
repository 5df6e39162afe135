package station_test

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

// What a probe gave before it went silent may go on where nobody measures it.
func TestASilenceSaysWhichWayItWent(t *testing.T) {
	b := newBench(t, silent(t))
	for i := range 60 {
		r := map[string]float64{"air": 23.3, "dummy": 23.4, "warm": 27}
		if i > 20 {
			r["dummy"] -= 0.05 * float64(i-20)
		}
		if i > 40 {
			delete(r, "dummy")
		}
		b.observe(began.Add(time.Duration(i)*time.Minute), r)
	}
	const want = "Last reading 19:40 (5 min ago): 72.0 °F, after falling 1.8 °F in half an hour.\n"
	for _, m := range b.waiting() {
		if strings.HasPrefix(m.Alarm, "probe-silent.") {
			if !strings.Contains(m.Body, want) {
				t.Errorf("it begins with\n%s\nwant %s", m.Body, want)
			}
			return
		}
	}
	t.Error("no message tells of the silence")
}

// What tells of a silence names the last reading, not when the patience ended: as it
// begins, as it is called again, on the page, and as it ends.
func TestASilenceNamesTheLastReading(t *testing.T) {
	for name, c := range map[string]struct {
		restart int // minute; 0: none
		gone    int // the first minute without a reading
		bus     bool
		begins  string
		ends    string
	}{
		"a probe":                            {gone: 31, begins: "Last reading 19:30 (5 min ago): 73.8 °F.", ends: "It gave nothing from 19:30, for 1 h 12 min."},
		"restarted while it is silent":       {gone: 31, restart: 33, begins: "Last reading 19:30 (8 min ago).", ends: "It gave nothing from 19:30, for 1 h 12 min."},
		"restarted after it was told":        {gone: 31, restart: 50, begins: "Last reading 19:30 (5 min ago): 73.8 °F.", ends: "It gave nothing from 19:30, for 1 h 12 min."},
		"one that never answered":            {restart: 0, gone: 0, begins: "No reading since 19:00 (5 min).", ends: "It gave nothing from 19:00, for 1 h 42 min."},
		"a bus":                              {gone: 31, bus: true, begins: "Last reading 19:30 (5 min ago).", ends: "None of its probes answered from 19:30, for 1 h 12 min."},
		"a bus, restarted after it was told": {gone: 31, bus: true, restart: 60, begins: "Last reading 19:30 (5 min ago).", ends: "None of its probes answered from 19:30, for 1 h 12 min."},
	} {
		t.Run(name, func(t *testing.T) {
			p := silent(t)
			if c.bus {
				p.Probes[0].Bus, p.Probes[1].Bus = "w1", "w1"
			}
			b := newBench(t, p)
			for i := range 140 {
				at := began.Add(time.Duration(i) * time.Minute)
				if i > 0 && i == c.restart {
					b.start(at)
				}
				r := map[string]float64{"air": 23.3, "dummy": 23.4, "warm": 27}
				if i >= c.gone && i <= 100 {
					delete(r, "dummy")
					if c.bus {
						delete(r, "air")
					}
				}
				b.observe(at, r)
				if i == 80 {
					for _, a := range b.Now().Alarms {
						if a.State == "active" && a.Since.Format("15:04") != c.ends[strings.Index(c.ends, "from ")+5:][:5] {
							t.Errorf("the page says %s since %v", a.Alarm, a.Since)
						}
						if a.State == "active" && (a.Value == nil || *a.Value != at.Sub(a.Since).Seconds()) {
							t.Errorf("the page says %v s since %v", deref(a.Value), a.Since)
						}
					}
				}
			}
			var begins, ends []alert.Message
			for _, m := range b.waiting() {
				switch {
				case !strings.HasPrefix(m.Alarm, "probe-silent.") && !strings.HasPrefix(m.Alarm, "bus-silent."):
				case m.Over:
					ends = append(ends, m)
				default:
					begins = append(begins, m)
				}
			}
			if len(begins) == 0 || !strings.Contains(begins[0].Body, c.begins) {
				t.Errorf("it begins with\n%+v\nwant %s", begins, c.begins)
			}
			if len(ends) != 1 || !strings.Contains(ends[0].Body, c.ends) {
				t.Errorf("it ends with\n%+v\nwant %s", ends, c.ends)
			}
			if len(begins) > 0 && !c.bus && !strings.Contains(begins[0].Subject, "probe silent: "+c.begins[strings.Index(c.begins, "(")+1:][:5]) {
				t.Errorf("subject %q", begins[0].Subject)
			}
			for _, m := range begins[1:] {
				if !strings.Contains(m.Body, c.begins[:strings.Index(c.begins, "(")]) {
					t.Errorf("called again as\n%s", m.Body)
				}
			}
		})
	}
}
