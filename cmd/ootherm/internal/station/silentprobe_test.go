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

// silent is the plan with probes that are told after five minutes.
func silent(t *testing.T) plan.Plan {
	p := testPlan(t)
	for i := range p.Probes {
		p.Probes[i].SilentAfter = 5 * time.Minute
	}
	return p
}

// A probe that was dead before a restart and is dead after it: its silence since the
// start is short, and that is no return to order.
func TestRestartDoesNotEndASilence(t *testing.T) {
	p := silent(t)
	p.Probes[0].Bus, p.Probes[1].Bus = "w1", "w1"
	b := newBench(t, p)
	at := began
	for i := range 120 {
		at = at.Add(time.Minute)
		r := map[string]float64{"air": 23.3, "dummy": 23.4, "warm": 27}
		if i > 30 { // a tick all the same
			r = nil
		}
		b.observe(at, r)
		if err := b.Tick(t.Context(), at); err != nil {
			t.Fatal(err)
		}
		if i == 60 {
			b.start(at)
		}
	}
	for _, m := range b.waiting() {
		if m.Over {
			t.Errorf("%s while every probe is dead:\n%s", m.Subject, m.Body)
		}
	}
	for _, kind := range []string{"probe-silent", "bus-silent"} {
		if n := len(b.raised(kind)); n != 1 {
			t.Errorf("%s was raised %d times, want once", kind, n)
		}
	}
	// The incubator's only probe is critical, and calls every hour.
	n := 0
	for _, m := range b.waiting() {
		if strings.HasPrefix(m.Alarm, "probe-silent.critical/incubator") {
			n++
		}
	}
	if n != 2 {
		t.Errorf("%d calls of the only probe of a zone in an hour and a half, want 2: %v", n, subjects(b.waiting()))
	}
}

// One probe of a bus is dead, its neighbour loses two polls now and then: that is not
// the bus, and the dead one is not sent again each time.
func TestADeadProbeIsToldOnceBesideAPoorOne(t *testing.T) {
	p := silent(t)
	p.Probes[0].Bus, p.Probes[1].Bus = "w1", "w1"
	b := newBench(t, p)
	at := began
	for i := range 180 {
		at = at.Add(time.Minute)
		r := map[string]float64{"air": 23.3, "dummy": 23.4, "warm": 27}
		if i > 30 {
			delete(r, "air")
		}
		if i > 60 && i%20 < 2 {
			delete(r, "dummy")
		}
		b.observe(at, r)
	}
	if all := b.waiting(); len(all) != 1 {
		t.Errorf("%d messages, want one: %v", len(all), subjects(all))
	}
}

// While "go now" calls every hour, "look today" of the same cold is no help.
func TestAWarningIsNotCalledAgainBesideTheCriticalOne(t *testing.T) {
	b := newBench(t, testPlan(t))
	b.note(season)
	at := began
	for i := range 10 * 60 {
		at = at.Add(time.Minute)
		v := 23.3 - min(5, float64(i)*0.02)
		b.observe(at, map[string]float64{"air": v, "dummy": v + 0.4, "warm": 27})
	}
	warned, called := 0, 0
	for _, m := range b.waiting() {
		switch {
		case m.Priority == alert.Warning && strings.HasPrefix(m.ID, "temperature-low.warning/room"):
			warned++
		case strings.HasPrefix(m.ID, "temperature-low.critical/room"):
			called++
		}
	}
	if warned != 1 || called < 5 {
		t.Errorf("%d warnings and %d critical calls, want one and one an hour: %v", warned, called, subjects(b.waiting()))
	}
}

// A box with a probe of its own that no zone lists: nobody was called when its eggs
// cooked, nor when it went silent.
func TestTheProbeOfABoxCalls(t *testing.T) {
	p := silent(t)
	p.Zones[0].Probes = []string{"air"}
	b := newBench(t, p)
	b.note(season)
	b.note(`{"key":"c1","at":"2026-04-02T19:00:30Z","entry":"moved","box":"B1","zone":"room","probe":"dummy"}` + "\n")
	at := began
	for i := range 600 {
		at = at.Add(time.Minute)
		r := map[string]float64{"air": 23.3, "dummy": 23.3, "warm": 27}
		if i > 100 {
			r["dummy"] = min(34, 23.3+float64(i-100)*0.05)
		}
		if i > 500 { // its warmth stays told
			delete(r, "dummy")
		}
		b.observe(at, r)
	}
	for _, want := range []string{"temperature-high.warning/room", "temperature-high.critical/room", "probe-silent.warning/room/probe:dummy"} {
		if !slices.ContainsFunc(b.waiting(), func(m alert.Message) bool { return m.Alarm == want }) {
			t.Errorf("nothing was said of %s: %v", want, subjects(b.waiting()))
		}
	}
}

// The probe beside the trouble goes silent while it is hot; the other one stands where
// it is well. That is no return to order, until the first one says so.
func TestAHotProbeThatGoesSilentEndsNothing(t *testing.T) {
	b := newBench(t, silent(t))
	at := began
	for i := range 300 {
		at = at.Add(time.Minute)
		r := map[string]float64{"air": 23.3, "dummy": 23.3, "warm": 27}
		if i > 30 && i < 200 {
			r["dummy"] = min(26, 23.3+float64(i-30)*0.05)
		}
		if i > 120 && i < 200 {
			delete(r, "dummy")
		}
		b.observe(at, r)
		if i == 199 {
			for _, m := range b.waiting() {
				if m.Over {
					t.Errorf("%s while the hot probe is silent", m.Subject)
				}
			}
		}
	}
	if n := len(b.raised("temperature-high")); n != 1 {
		t.Errorf("raised %d times, want once", n)
	}
	if !slices.ContainsFunc(b.waiting(), func(m alert.Message) bool { return m.Over && m.Alarm == "temperature-high.warning/room" }) {
		t.Errorf("its end was not told once it was measured: %v", subjects(b.waiting()))
	}
}

// nightly is the plan with a room that has no low end from 20:00 to 22:00.
func nightly(t *testing.T) plan.Plan {
	p := testPlan(t)
	whole := *p.Zones[0].Wanted
	night := whole
	night.Low = nil
	whole.Spells = []config.Spell{{From: 20 * time.Hour, To: 22 * time.Hour, Band: night}}
	p.Zones[0].Wanted = &whole
	return p
}

// An on-delay does not run on in a band that was not in force meanwhile.
func TestABandThatComesBackStartsItsDelayAgain(t *testing.T) {
	b := newBench(t, nightly(t)) // at 19:00
	for i := range 190 {
		v := 23.3
		if i >= 55 { // just before the night's band, and all the while
			v = 21.5
		}
		b.observe(began.Add(time.Duration(i)*time.Minute), map[string]float64{"air": v, "dummy": v, "warm": 27})
	}
	raised := b.raised("temperature-low")
	if want := began.Add(3*time.Hour + 10*time.Minute); len(raised) > 0 && raised[0].Before(want) {
		t.Errorf("raised at %v, want not before its on-delay after 22:00", raised)
	}
}
