package station_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station"
)

// over are the ends of an alarm that were told.
func (b *bench) over(alarm string) (all []alert.Message) {
	for _, m := range b.waiting() {
		if m.Over && m.Alarm == alarm {
			all = append(all, m)
		}
	}
	return all
}

// The probe beside the trouble goes silent while it is past the limit, and the station
// restarts: what its neighbour says is no return to order, until it speaks itself.
func TestARestartEndsNoAlarmOfASilentProbe(t *testing.T) {
	for _, c := range []struct {
		name     string
		hot      float64
		restarts []int // minutes
		silent   [2]int
		alarm    string
	}{
		{"too warm", 26, []int{130}, [2]int{120, 200}, "temperature-high.warning/room"},
		{"too cold", 20, []int{130, 150, 151}, [2]int{120, 200}, "temperature-low.warning/room"},
		{"dead with the station", 26, []int{120}, [2]int{120, 200}, "temperature-high.warning/room"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, silent(t))
			at := began
			for i := range 300 {
				at = at.Add(time.Minute)
				if slices.Contains(c.restarts, i) {
					b.start(at)
				}
				r := map[string]float64{"air": 23.3, "dummy": 23.3, "warm": 27}
				if i > 30 && i < c.silent[1] {
					step := min(1, float64(i-30)*0.05)
					r["dummy"] += step * (c.hot - 23.3)
				}
				if i >= c.silent[0] && i < c.silent[1] {
					delete(r, "dummy")
				}
				b.observe(at, r)
				if i == c.silent[1]-1 {
					if got := b.over(c.alarm); len(got) > 0 {
						t.Errorf("%s while its probe is silent", got[0].Subject)
					}
				}
			}
			if n := len(b.over(c.alarm)); n != 1 {
				t.Errorf("its end was told %d times once it was measured, want once: %v", n, subjects(b.waiting()))
			}
		})
	}
}

// A probe that was back in band before it went silent holds nothing, over a restart
// too; nor does one under a limit that is wider now, or one that is gone.
func TestWhatSaysNothingAgainstItsEndHoldsNoAlarm(t *testing.T) {
	for name, change := range map[string]struct {
		back bool
		plan func(*plan.Plan)
	}{
		"back before":   {true, func(*plan.Plan) {}},
		"a wider band":  {false, func(p *plan.Plan) { b := *p.Zones[0].Wanted; b.High = ptr(27); p.Zones[0].Wanted = &b }},
		"another probe": {false, func(p *plan.Plan) { p.Zones[0].Probes, p.Probes = []string{"air"}, append(p.Probes[:1:1], p.Probes[2]) }},
	} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, silent(t))
			at := began
			for i := range 260 {
				at = at.Add(time.Minute)
				r := map[string]float64{"air": 23.3, "dummy": min(26, 23.3+float64(i)*0.1), "warm": 27}
				if i > 60 && change.back {
					r["dummy"], r["air"] = max(23.3, 26-float64(i-60)*0.1), 25 // air is what is too warm now
				}
				if i >= 120 {
					delete(r, "dummy")
				}
				if i >= 140 {
					r["air"] = 23.3
				}
				if i == 150 {
					change.plan(&b.options.Plan)
					b.start(at)
				}
				if i >= 150 && len(b.options.Plan.Probes) == 2 {
					delete(r, "dummy")
				}
				b.observe(at, r)
			}
			if n := len(b.over("temperature-high.warning/room")); n != 1 {
				t.Errorf("its end was told %d times, want once: %v", n, subjects(b.waiting()))
			}
		})
	}
}

// Of three probes the one that is far off goes silent: that the others agree is no end,
// over a restart too. The same of a probe that drifts.
func TestTheOddProbeGoesSilent(t *testing.T) {
	p := silent(t)
	p.Probes = append(p.Probes, plan.Probe{Name: "third", SilentAfter: 5 * time.Minute})
	p.Zones[0].Probes = append(p.Zones[0].Probes, "third")
	p.Zones[0].Apart, p.Zones[0].Wanted = 3, nil
	b := newBench(t, p)
	at := began
	for i := range 400 {
		at = at.Add(time.Minute)
		r := map[string]float64{"air": 23.3, "dummy": 23.3 + min(4.5, 0.05*float64(i)), "third": 23.4, "warm": 27}
		if i > 200 && i < 350 {
			delete(r, "dummy")
		}
		if i >= 350 {
			r["dummy"] = 23.3
		}
		if i == 250 {
			b.start(at)
		}
		b.observe(at, r)
		if i == 349 && len(b.over("probes-disagree.warning/room")) > 0 {
			t.Error("the end was told while the odd one is silent")
		}
	}
	if n := len(b.raised("probes-disagree")); n != 1 {
		t.Errorf("raised %d times, want once", n)
	}
	if n := len(b.over("probes-disagree.warning/room")); n != 1 {
		t.Errorf("its end was told %d times, want once: %v", n, subjects(b.waiting()))
	}
}

func TestTheDriftingProbeGoesSilent(t *testing.T) {
	for _, restart := range []bool{false, true} {
		t.Run(fmt.Sprint("restart ", restart), func(t *testing.T) {
			b := newBench(t, silent(t))
			at, raised := began, -1
			for i := range 36 * 60 {
				at = at.Add(time.Minute)
				r := map[string]float64{"air": 23.3, "dummy": 23.3, "warm": 27}
				if fall := i - 24*60; fall > 0 {
					r["dummy"] -= float64(fall) * 0.4 / 60
				}
				if raised < 0 && len(b.raised("drift-down")) > 0 {
					raised = i
				}
				if raised >= 0 && i > raised+2 {
					delete(r, "dummy")
				}
				if restart && raised >= 0 && i == raised+60 {
					b.start(at)
				}
				b.observe(at, r)
			}
			if raised < 0 {
				t.Fatal("the drift was not called")
			}
			if got := b.over("drift-down.warning/room"); len(got) > 0 {
				t.Errorf("%s while the probe that drifts is silent", strings.TrimSpace(got[0].Body))
			}
		})
	}
}

// A start says nothing of senders that were not tried since, nor of a card that was not
// written to: neither alarm ends before something got through.
func TestARestartEndsNoAlarmOfTheStationItself(t *testing.T) {
	p := testPlan(t)
	p.Senders = []plan.Sender{{Name: "mail"}, {Name: "push"}}
	b := newBench(t, p)
	tried := map[string]notice.Failure{"mail": {Since: began, Err: "the server does not answer"}}
	b.options.Troubles = func() map[string]notice.Failure { return tried }
	full := &fullHistory{History: b.options.History, full: true}
	b.options.History = full
	b.start(began)
	at := began
	run := func(minutes int) {
		for range minutes {
			at = at.Add(time.Minute)
			b.observe(at, air(at))
			if err := b.Tick(t.Context(), at); err != nil && !full.full {
				t.Fatal(err)
			}
		}
	}
	over := func() int {
		return len(b.over("sender-failing.warning/part:mail")) + len(b.over("storage-failing.critical"))
	}
	run(20)
	if len(b.raised("sender-failing")) != 1 || len(b.raised("storage-failing")) != 1 {
		t.Fatalf("raised %+v, want each once", b.events)
	}
	tried = map[string]notice.Failure{}
	b.start(at)
	b.observe(at, air(at))
	if n := over(); n != 0 {
		t.Errorf("%d ends were told by a restart: %v", n, subjects(b.waiting()))
	}
	run(5)
	full.full = false
	run(5)
	if got := subjects(b.over("storage-failing.critical")); len(got) != 2 {
		t.Errorf("once the readings are saved its end is %v, want it at both senders", got)
	}
	if got := subjects(b.over("sender-failing.warning/part:mail")); len(got) != 0 {
		t.Errorf("before anything got through: %v", got)
	}
	tried = map[string]notice.Failure{"mail": {}}
	run(1)
	if got := subjects(b.over("sender-failing.warning/part:mail")); len(got) != 1 {
		t.Errorf("once something got through its end is %v, want it at the other sender", got)
	}
}

// fullHistory is one on a full card.
type fullHistory struct {
	station.History
	full bool
}

func (h *fullHistory) Flush() error {
	if h.full {
		return errors.New("no space left on device")
	}
	return h.History.Flush()
}
