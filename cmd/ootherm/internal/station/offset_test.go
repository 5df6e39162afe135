package station_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/sensor"
)

// Two boxes by the book 0.8 K warmer and 0.37 K colder than what tells of them: what
// their eggs feel, what is expected and what is shown is so much off, live and
// rebuilt alike, and no alarm is.
func TestOffsetOfABox(t *testing.T) {
	t.Parallel()
	run := func(offsets bool) (felt, likely [2]float64, b *bench, at time.Time) {
		entries := season + `{"key":"m1","at":"2026-04-02T19:00:00Z","entry":"moved","egg":"T1-1","box":"B2","slot":"a"}` + "\n"
		if offsets {
			entries = strings.Replace(entries, `"box":"B1","zone":"room"`, `"box":"B1","zone":"room","offset_k":0.8`, 1)
			entries = strings.Replace(entries, `"zone":"room","probe":"dummy"`, `"zone":"room","probe":"dummy","offset_k":-0.37`, 1)
		}
		b = newBench(t, testPlan(t))
		b.windowsDaily()
		b.note(entries)
		for at = began; at.Before(began.Add(3 * 24 * time.Hour)); at = at.Add(time.Minute) {
			day := math.Sin(2 * math.Pi * at.Sub(began).Hours() / 24)
			b.observe(at, map[string]float64{"air": 23 + day, "dummy": 23.4 + 0.3*day, "warm": 27})
		}
		b.Refresh()
		for i, id := range []string{"S1", "T1"} {
			c := b.clutch(id)
			felt[i] = *c.EquivalentCelsius
			likely[i] = c.Window.Likely.Sub(began).Hours() / 24
		}
		return felt, likely, b, at
	}
	plain, late, b, _ := run(false)
	alarms := len(b.Now().Alarms)
	felt, soon, b, at := run(true)
	for i, want := range []float64{0.8, -0.37} {
		if got := felt[i] - plain[i]; math.Abs(got-want) > 0.05 {
			t.Errorf("box %d is felt %.3f K off, want %.2f", i+1, got, want)
		}
		if days := soon[i] - late[i]; days*want > -0.5 { // some 9 % of 100 days a kelvin
			t.Errorf("box %d, %.2f K off: likely %.1f days later", i+1, want, days)
		}
	}
	if got := len(b.Now().Alarms); got != alarms {
		t.Errorf("%d alarms, %d without offsets", got, alarms)
	}
	if x := boxOf(b.Now(), "B1"); x.Offset != 0.8 || !strings.Contains(strings.Join(x.Clutches[0].Because, "\n"), "by the book the box is 1.4 °F warmer than the room") {
		t.Errorf("shown: %+v", x)
	}
	b.start(at)
	for i, id := range []string{"S1", "T1"} {
		c := b.clutch(id)
		// The days of the climate to come are made of blocks after a start: 0.1 d.
		if math.Abs(*c.EquivalentCelsius-felt[i]) > 1e-3 || math.Abs(c.Window.Likely.Sub(began).Hours()/24-soon[i]) > 0.2 {
			t.Errorf("%s: rebuilt %.5f C, likely %v; live %.5f C, day %.2f", id, *c.EquivalentCelsius, c.Window.Likely.Sub(began).Hours()/24, felt[i], soon[i])
		}
	}
	// Moved without an offset, it has none any more.
	b.note(`{"key":"m2","at":"2026-04-05T17:59:00Z","entry":"moved","box":"B1","zone":"room"}` + "\n")
	if x := boxOf(b.Now(), "B1"); x.Offset != 0 {
		t.Errorf("moved without an offset it keeps %v K", x.Offset)
	}
}

// How far the probes of a zone lie apart over a day is known at once after a
// restart; a probe that is lost draws it to nothing neither before nor after.
func TestSpreadOutlivesARestart(t *testing.T) {
	b := newBench(t, testPlan(t))
	at := began
	for ; at.Before(began.Add(30 * time.Hour)); at = at.Add(time.Minute) {
		apart := 1.0
		if at.Sub(began) < 6*time.Hour {
			apart = 3 // longer ago than a day
		}
		v := map[string]float64{"air": 23, "dummy": 23 + 0.2 + apart}
		if at.Sub(began) > 29*time.Hour {
			delete(v, "dummy")
		}
		b.observe(at, v)
	}
	spread := func(what string, least, most float64) {
		t.Helper()
		if s := b.Now().Zones[0].SpreadK; s == nil || !(*s >= least && *s <= most) {
			t.Errorf("%s: the probes are %v K apart, want %.1f to %.1f", what, deref(s), least, most)
		}
	}
	spread("live", 1.0, 2.0)
	b.start(at)
	spread("after a restart", 0.99, 1.01)
}

// A bus on which nothing answers is unwell after three polls; one bad answer is
// an answer, and a probe that is lost beside one that is heard is none of it.
func TestSilentBusIsTold(t *testing.T) {
	p := testPlan(t)
	p.Probes[0].Bus, p.Probes[1].Bus = "/dev/i2c-1", "/dev/i2c-1"
	b := newBench(t, p)
	at := began
	poll := func(causes map[string]sensor.Cause) string {
		t.Helper()
		var all []sensor.Reading
		for name, c := range causes {
			r := sensor.Reading{Probe: name, Stamp: sensor.Stamp{Boot: b.options.Boot.Number, Uptime: at.Sub(began)}, Measurement: sensor.Measurement{Celsius: 24, Humidity: math.NaN()}, Cause: c}
			if c != "" {
				r.Measurement = sensor.None()
			}
			all = append(all, r)
		}
		if err := b.Observe(t.Context(), all); err != nil {
			t.Fatal(err)
		}
		at = at.Add(time.Minute)
		return strings.Join(b.Now().Health.Silent, ", ")
	}
	for i, c := range []struct {
		causes map[string]sensor.Cause
		want   string
	}{
		{map[string]sensor.Cause{"air": "", "dummy": "", "warm": ""}, ""},
		{map[string]sensor.Cause{"air": sensor.BusGone, "dummy": sensor.BusGone, "warm": sensor.NoAnswer}, ""},
		{map[string]sensor.Cause{"air": sensor.BusGone, "dummy": sensor.BusGone, "warm": sensor.NoAnswer}, ""},
		{map[string]sensor.Cause{"air": sensor.BusGone, "dummy": sensor.BusGone, "warm": sensor.NoAnswer}, ""},
		{map[string]sensor.Cause{"air": sensor.BusGone, "dummy": sensor.BusGone, "warm": sensor.BadFrame}, "/dev/i2c-1"},
		{map[string]sensor.Cause{"air": sensor.NoAnswer, "dummy": "", "warm": sensor.NoAnswer}, ""},
	} {
		if got := poll(c.causes); got != c.want {
			t.Errorf("poll %d: silent %q, want %q", i+1, got, c.want)
		}
	}
}
