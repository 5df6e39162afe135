package conditions

import (
	"math"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/track"
)

var began = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)

// newConditions has the zone room with the probes a and b on a bus, and the probe box of no
// zone on its own.
func newConditions() *Conditions {
	p := plan.Plan{Every: time.Minute, Location: time.UTC,
		Probes: []plan.Probe{{Name: "a", Bus: "i2c"}, {Name: "b", Bus: "i2c"}, {Name: "box"}},
		Zones:  []plan.Zone{{Name: "room", Probes: []string{"a", "b"}}}}
	past := pastreadings.New(pastreadings.Options{Plan: p, Now: func() time.Time { return began }})
	return New(p, past, began, func() {})
}

func reading(probe string, celsius float64) sensor.Reading {
	return sensor.Reading{Probe: probe, Measurement: sensor.Measurement{Celsius: celsius, Humidity: math.NaN()}}
}

func failed(probe string, cause sensor.Cause) sensor.Reading {
	r := reading(probe, math.NaN())
	r.Cause = cause
	return r
}

// One instant gives each source one sample: a probe its own, a zone that of its probes.
func TestObserve(t *testing.T) {
	c := newConditions()
	got := map[track.Source]float64{}
	sampled := 0
	c.Observe([]sensor.Reading{reading("a", 22), reading("b", 23), reading("box", 30)}, began, func(s track.Source, x thermal.Sample) {
		got[s] = x.Celsius
		sampled++
	})
	want := map[track.Source]float64{{Probe: "a"}: 22, {Probe: "b"}: 23, {Probe: "box"}: 30, {Zone: "room"}: 22.5}
	for s, celsius := range want {
		if got[s] != celsius || c.Celsius(s, began) != celsius {
			t.Errorf("%+v: sample %v, present %v, want %v", s, got[s], c.Celsius(s, began), celsius)
		}
	}
	if sampled != len(want) {
		t.Errorf("%d samples, want %d", sampled, len(want))
	}
	if !math.IsNaN(c.Celsius(track.Source{Zone: "attic"}, began)) || !math.IsNaN(c.Celsius(track.Source{Zone: "room"}, began.Add(time.Hour))) {
		t.Error("an unknown source, or one with old readings alone, has a temperature")
	}
	if s := c.Sources("a"); !slices.Equal(s, []track.Source{{Probe: "a"}, {Zone: "room"}}) {
		t.Errorf("a feeds %v", s)
	}
}

// A bus is silent when none of its probes answered within three polls; a bad answer is one.
// A probe that was not even tried is no poll.
func TestSilentBusesAndPolls(t *testing.T) {
	for name, c := range map[string]struct {
		readings []sensor.Reading // three minutes and a second after the start
		silent   []string
		polled   bool
	}{
		"all answer":         {[]sensor.Reading{reading("a", 22), reading("b", 22), reading("box", 22)}, []string{}, true},
		"one of two answers": {[]sensor.Reading{failed("a", sensor.NoAnswer), reading("b", 22), reading("box", 22)}, []string{}, true},
		"a bad answer":       {[]sensor.Reading{failed("a", sensor.BadFrame), failed("b", sensor.NoAnswer), reading("box", 22)}, []string{}, true},
		"no answer":          {[]sensor.Reading{failed("a", sensor.NoAnswer), failed("b", sensor.BusGone), reading("box", 22)}, []string{"i2c"}, true},
		"one without a bus":  {[]sensor.Reading{reading("a", 22), reading("b", 22), failed("box", sensor.NoAnswer)}, []string{"box"}, true},
		"one is not tried":   {[]sensor.Reading{reading("a", 22), reading("b", 22)}, []string{"box"}, false},
	} {
		x := newConditions()
		now := began.Add(3*time.Minute + time.Second)
		x.Observe(c.readings, now, func(track.Source, thermal.Sample) {})
		if got := x.SilentBuses(now); !slices.Equal(got, c.silent) || x.Polled(now) != c.polled {
			t.Errorf("%s: silent %v, polled %v; want %v, %v", name, got, x.Polled(now), c.silent, c.polled)
		}
	}
	if x := newConditions(); len(x.SilentBuses(began.Add(3*time.Minute))) > 0 || !x.Polled(began.Add(3*time.Minute)) {
		t.Error("a bus is silent before three polls")
	}
}

// The probe of a box with eggs that wait watches the zone, unless a zone lists it.
func TestBoxProbes(t *testing.T) {
	for name, c := range map[string]struct {
		groups []*track.Group
		want   int
	}{
		"eggs that wait":     {[]*track.Group{{Zone: "room", Probe: "box", Waiting: true}}, 1},
		"two clutches in it": {[]*track.Group{{Zone: "room", Probe: "box", Waiting: true}, {Zone: "room", Probe: "box", Waiting: true}}, 1},
		"eggs that hatched":  {[]*track.Group{{Zone: "room", Probe: "box"}}, 0},
		"listed":             {[]*track.Group{{Zone: "room", Probe: "a", Waiting: true}}, 0},
		"another zone":       {[]*track.Group{{Zone: "attic", Probe: "box", Waiting: true}}, 0},
		"unknown":            {[]*track.Group{{Zone: "room", Probe: "none", Waiting: true}}, 0},
	} {
		x := newConditions()
		x.UpdateBoxProbes([]*track.Group{{Zone: "room", Probe: "box", Waiting: true}})
		x.UpdateBoxProbes(c.groups)
		if got := len(x.Zone("room").BoxProbes); got != c.want {
			t.Errorf("%s: %d probes, want %d", name, got, c.want)
		}
	}
}

// Readings of one boot are screened in the order of their times; an unknown probe's are
// left out.
func TestScreen(t *testing.T) {
	stamped := func(probe string, up time.Duration) sensor.Reading {
		r := reading(probe, 22)
		r.Boot, r.Uptime = 1, up
		return r
	}
	in := []sensor.Reading{stamped("b", 2), stamped("none", 1), stamped("a", 2), stamped("a", 1)}
	var got []string
	for _, r := range newConditions().Screen(in) {
		got = append(got, r.Probe+r.Uptime.String())
	}
	if !slices.Equal(got, []string{"a1ns", "a2ns", "b2ns"}) || in[0].Probe != "b" {
		t.Errorf("screened %v; the readings handed in begin with %s", got, in[0].Probe)
	}
}

// A poll is as old as the last try of the probe that was tried the longest ago.
func TestLastPoll(t *testing.T) {
	at := time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)
	c := &Conditions{Probes: map[string]*zone.Probe{}}
	for name, tried := range map[string]time.Time{"a": at, "b": at.Add(-time.Minute), "c": at.Add(time.Second)} {
		c.Probes[name] = &zone.Probe{LastTried: tried}
	}
	if got := c.LastPoll(); !got.Equal(at.Add(-time.Minute)) {
		t.Errorf("got %v", got)
	}
	c.Probes["d"] = &zone.Probe{}
	if got := c.LastPoll(); !got.IsZero() {
		t.Errorf("a probe was never tried, and got %v", got)
	}
}
