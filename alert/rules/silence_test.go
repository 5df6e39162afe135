package rules_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
)

func TestSilentProbe(t *testing.T) {
	b := newBench(t)
	b.limits()
	b.at(0)
	k := rules.ProbeSilence("room", "a", false)
	b.silence("a")
	check(t, "silent for", b.raisedAfter(k, time.Hour), 10*time.Minute)
	x, _ := b.panel.Alarm(k)
	if !x.Began.Equal(start) {
		t.Errorf("it began %v, the last reading is of %v", x.Began, start)
	}
	b.v.Probes["a"].Fresh = true
	check(t, "it answers for", b.endsAfter(k, time.Hour), time.Minute)
}

func TestOnlyProbeIsCritical(t *testing.T) {
	b := newBench(t)
	b.room().Probes = b.room().Probes[:1]
	b.limits()
	check(t, "calls again", b.limit(rules.ProbeSilence("room", "a", true)).ReAlarm, time.Hour)
}

// A probe that has given nothing since the start may have been silent long before it: a
// silence that has not lasted long enough says nothing, and one that has began with the last
// reading before the start.
func TestSilentSinceBeforeTheStart(t *testing.T) {
	b := newBench(t)
	before := start.Add(-2 * time.Hour)
	b.v.Probes["a"].Good, b.v.Probes["a"].Before, b.v.Probes["a"].Fresh = time.Time{}, before, false
	b.limits()
	k := rules.ProbeSilence("room", "a", false)
	check(t, "silent since the start for", b.raisedAfter(k, time.Hour), 10*time.Minute)
	if x, _ := b.panel.Alarm(k); !x.Began.Equal(before) {
		t.Errorf("it began %v, want %v", x.Began, before)
	}
}

// A bus that is gone is one alarm: its probes are hidden under it.
func TestSilentBus(t *testing.T) {
	b := newBench(t)
	b.v.Buses = []rules.Bus{{Name: "i2c", Probes: b.room().Probes}}
	b.limits()
	b.at(0)
	b.silence("a")
	b.silence("b")
	bus := rules.BusSilence("i2c")
	check(t, "silent for", b.raisedAfter(bus, time.Hour), 10*time.Minute)
	for _, name := range []string{"a", "b"} {
		x, _ := b.panel.Alarm(rules.ProbeSilence("room", name, false))
		check(t, "probe "+name+" is", x.State, alert.Suppressed)
	}
	b.v.Probes["a"].Fresh = true
	check(t, "one answers for", b.endsAfter(bus, time.Hour), time.Minute)
	b.at(b.v.Now.Sub(start) + time.Minute)
	x, _ := b.panel.Alarm(rules.ProbeSilence("room", "b", false))
	check(t, "the other one is", x.State, alert.Active)
}

// Two missed polls of a neighbour make a bus that seems gone; one does not. A probe that was
// told before stays.
func TestNeighbourMissesPolls(t *testing.T) {
	for what, x := range map[string]struct {
		missed time.Duration
		told   bool
		want   alert.State
	}{
		"one poll missed":         {poll, false, alert.Active},
		"two polls missed":        {2 * poll, false, alert.Suppressed},
		"two missed, told before": {2 * poll, true, alert.Active},
	} {
		b := newBench(t)
		b.v.Buses = []rules.Bus{{Name: "i2c", Probes: b.room().Probes}}
		b.limits()
		b.at(0)
		b.silence("a")
		last := 10*time.Minute - poll
		if x.told {
			last = 10 * time.Minute
		}
		b.at(last)
		b.silence("b")
		b.at(max(last+x.missed, 10*time.Minute))
		b.v.Probes["b"].Good = b.v.Now.Add(-x.missed)
		b.at(b.v.Now.Sub(start))
		got, _ := b.panel.Alarm(rules.ProbeSilence("room", "a", false))
		check(t, what, got.State, x.want)
	}
}

func TestLostHumidity(t *testing.T) {
	for what, x := range map[string]struct {
		moist, asked, thermometer bool
		watched                   alert.Priority
		raised                    bool
	}{
		"it measured humidity":        {moist: true, watched: alert.Notice, raised: true},
		"a band asks for it":          {moist: true, asked: true, watched: alert.Warning, raised: true},
		"it never measured any":       {watched: alert.Notice},
		"a thermometer measures none": {moist: true, thermometer: true},
	} {
		b := newBench(t)
		p := b.v.Probes["a"]
		p.Humidity, p.Moist, p.Thermometer = math.NaN(), x.moist, x.thermometer
		b.room().AsksHumidity = x.asked
		b.limits()
		k := rules.HumiditySilence(b.room(), "a")
		_, watched := b.panel.Alarm(k)
		check(t, what+": watched", watched, x.watched != "")
		if !watched {
			continue
		}
		check(t, what+": priority", k.Priority, x.watched)
		want := time.Duration(0)
		if x.raised {
			want = 10 * time.Minute
		}
		check(t, what+": raised after", b.raisedAfter(k, time.Hour), want)
	}
	b := newBench(t)
	b.limits()
	check(t, "a notice calls again", b.limit(rules.HumiditySilence(b.room(), "a")).ReAlarm, 7*24*time.Hour)
}
