package station_test

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/replay"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/recording"
)

// Power that fails every minute for two hours: a condition that lasts is told
// within its on-delay and one poll of uptime, whichever poll saw it first, and not
// before its on-delay.
func TestRestartEveryMinuteStillAlarms(t *testing.T) {
	const up, off = 50 * time.Second, 10 * time.Second
	p := testPlan(t)
	p.Every = 10 * time.Second
	delay := p.Zones[0].Wanted.OnDelay
	for first := range 6 {
		cold := began.Add(time.Minute + time.Duration(first)*p.Every)
		b := newBench(t, p)
		for start := began; start.Before(began.Add(2 * time.Hour)); start = start.Add(up + off) {
			b.start(start)
			for at := start; at.Before(start.Add(up)); at = at.Add(p.Every) {
				c := 22.75 // a step to 22.15 is one that air can make
				if !at.Before(cold) {
					c = 22.15
				}
				b.observe(at, map[string]float64{"air": c, "dummy": c, "warm": 27})
			}
		}
		told := b.raised("temperature-low")
		if len(told) != 1 {
			t.Fatalf("cold from poll %d on: told at %v, want once", first, told)
		}
		seen := cold
		if cold.Sub(began)%(up+off) >= up {
			seen = cold.Add(off) // the first poll of the next minute
		}
		// Of a poll that was the last before the plug was pulled nobody knows: that
		// is the one poll, and the outage after it.
		allowed := delay
		if seen.Sub(began)%(up+off) == up-p.Every {
			allowed += p.Every + off
		}
		if spent := told[0].Sub(seen); spent > allowed || spent < delay {
			t.Errorf("cold from poll %d on: told after %v, want %v to %v", first, spent, delay, allowed)
		}
	}
}

// A room that touches its limit at one poll of each minute is at its limit, but one
// that is well inside in between never alarms, restarts or not.
func TestRestartRaisesNoFalseAlarm(t *testing.T) {
	p := testPlan(t)
	p.Every = 10 * time.Second
	b := newBench(t, p)
	for start := began; start.Before(began.Add(2 * time.Hour)); start = start.Add(time.Minute) {
		b.start(start)
		for i := range 5 {
			c := 22.75
			if i >= 3 { // two polls, so that the beginning is kept
				c = 22.15
			}
			b.observe(start.Add(time.Duration(i)*p.Every), map[string]float64{"air": c, "dummy": c, "warm": 27})
		}
	}
	if told := b.raised("temperature-low"); len(told) != 0 {
		t.Errorf("20 s in each minute were told as ten minutes: %v", told)
	}
}

// onTheLimit is noise of 0.1 C around the wanted band's high end, every ten seconds
// for a day.
func onTheLimit(yield func(at time.Time, celsius float64)) {
	r := rand.New(rand.NewPCG(24, 4))
	for i := range 24 * 360 {
		yield(began.Add(time.Duration(i)*10*time.Second), 24.4+0.1*r.NormFloat64())
	}
}

// Noise of 0.1 C on the limit for a day is one alarm and one message.
func TestNoiseOnTheLimitIsOneAlarm(t *testing.T) {
	p := testPlan(t)
	p.Every = 10 * time.Second
	p.Zones[0].Rate, p.Zones[0].Apart = 5, 3
	b := newBench(t, p)
	b.options.ForecastEvery, b.options.PublishEvery = 24*time.Hour, 24*time.Hour
	b.start(began)
	onTheLimit(func(at time.Time, c float64) {
		if at.Sub(began) == 2*time.Hour {
			if err := b.Act(t.Context(), panel.Action{Do: "acknowledge", Zone: "room"}); err != nil {
				t.Fatal(err)
			}
		}
		b.observe(at, map[string]float64{"air": c, "dummy": c, "warm": 27})
	})
	active := 0
	for _, e := range b.events {
		if e.Alarm != "temperature-high" {
			t.Errorf("noise raised %+v", e)
		}
		if e.To == "active" && e.From == "normal" {
			active++
		}
	}
	if active != 1 {
		t.Errorf("%d alarms, want one: %+v", active, b.events)
	}
	fresh, again := 0, 0
	for _, m := range b.waiting() {
		if strings.Contains(m.Body, "Told before; it lasts.") && !m.Over {
			again++ // each six hours after somebody said that they saw it
		} else {
			fresh++
		}
	}
	if fresh != 1 || again > 22/6 {
		t.Errorf("messages %q, want one, and at most %d that say it lasts", subjects(b.waiting()), 22/6)
	}
}

// The same through a replay: one transition to active.
func TestNoiseReplayedIsOneAlarm(t *testing.T) {
	p := testPlan(t)
	p.Every = 10 * time.Second
	var rows noise
	onTheLimit(func(at time.Time, c float64) {
		for _, probe := range []string{"air", "dummy"} {
			rows = append(rows, recording.Row{At: at, Probe: probe, Measurement: sensor.Measurement{Celsius: c, Humidity: math.NaN()}})
		}
	})
	result, err := replay.Replay{Plan: p, Rows: &rows, Start: began}.Run(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var told []string
	for _, e := range result.Events {
		if e.Zone != nil && *e.Zone == "room" && e.Alarm != "probe-silent" {
			told = append(told, fmt.Sprint(e.Alarm, " ", e.From, "-", e.To))
		}
	}
	if len(told) != 1 || told[0] != "temperature-high normal-active" {
		t.Errorf("a day of noise on the limit is %q, want one alarm that begins", told)
	}
}

type noise []recording.Row

func (n *noise) Next() (recording.Row, error) {
	if len(*n) == 0 {
		return recording.Row{}, io.EOF
	}
	r := (*n)[0]
	*n = (*n)[1:]
	return r, nil
}
