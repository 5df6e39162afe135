package rules_test

import (
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/rules"
)

func key(kind alert.Kind, p alert.Priority) alert.Key {
	return alert.Key{Kind: kind, Priority: p, Zone: "room"}
}

// gives has a probe give a value from now on.
func (b *bench) gives(name string, celsius float64) { b.v.Probes[name].Celsius = celsius }

func (b *bench) silence(name string) { b.v.Probes[name].Fresh = false }

func TestBandsGoByTheWorstProbe(t *testing.T) {
	low, high := 20.0, 30.0
	for what, x := range map[string]struct {
		a, b float64
		want alert.Kind
		by   string
	}{
		"both inside": {a: 25, b: 26},
		"one cold":    {25, 19, alert.TemperatureLow, "b"},
		"one warm":    {31, 25, alert.TemperatureHigh, "a"},
		"no value":    {math.NaN(), 25, "", ""},
	} {
		b := newBench(t)
		b.room().Safe = &rules.Band{Low: &low, High: &high}
		b.limits()
		b.gives("a", x.a)
		b.gives("b", x.b)
		b.at(0)
		for _, kind := range []alert.Kind{alert.TemperatureLow, alert.TemperatureHigh} {
			k := key(kind, alert.Critical)
			check(t, what+": "+k.String(), b.panel.Stands(k), kind == x.want)
			if kind == x.want {
				check(t, what+": by probe", b.panel.Probe(k), x.by)
			}
		}
	}
}

// A probe of a box with eggs that no zone lists is watched beside the zone's.
func TestBoxedProbeIsWatched(t *testing.T) {
	low := 20.0
	b := newBench(t)
	b.v.Probes["boxed"] = &rules.Probe{Name: "boxed", Celsius: 19, Good: start, Fresh: true, SilentAfter: time.Minute}
	b.room().Safe, b.room().Boxed = &rules.Band{Low: &low}, []*rules.Probe{b.v.Probes["boxed"]}
	b.limits()
	b.at(0)
	if !b.panel.Stands(key(alert.TemperatureLow, alert.Critical)) {
		t.Error("a cold box with a probe of its own raises nothing")
	}
	b.silence("boxed")
	b.raisedAfter(rules.ProbeSilence("room", "boxed", false), time.Hour)
	if !b.panel.Stands(rules.ProbeSilence("room", "boxed", false)) {
		t.Error("its silence raises nothing")
	}
	if !b.panel.Stands(key(alert.TemperatureLow, alert.Critical)) {
		t.Error("its silence ends the alarm that it raised")
	}
}

func TestHumidityBand(t *testing.T) {
	low := 0.7
	b := newBench(t)
	b.room().Humidity = &rules.Band{Low: &low}
	b.limits()
	b.at(0)
	check(t, "damp enough", b.panel.Stands(key(alert.HumidityLow, alert.Warning)), false)
	b.v.Probes["b"].Humidity = 0.6
	b.at(time.Minute)
	check(t, "too dry", b.panel.Stands(key(alert.HumidityLow, alert.Warning)), true)
}

func TestDisagreement(t *testing.T) {
	b := newBench(t)
	b.room().Apart = 3
	b.limits()
	b.gives("b", 27.9)
	k := rules.Disagreement("room")
	check(t, "2.9 K apart", b.raisedAfter(k, 3*time.Hour), 0)
	b.gives("b", 28.1)
	check(t, "3.1 K apart for", b.raisedAfter(k, 3*time.Hour), time.Hour)
	b.silence("b")
	check(t, "one is silent: ends after", b.endsAfter(k, 3*time.Hour), 0)
	b.v.Probes["b"].Fresh = true
	b.gives("b", 27.6)
	check(t, "within the deadband: ends after", b.endsAfter(k, 3*time.Hour), 0)
	b.gives("b", 27.4)
	check(t, "together for", b.endsAfter(k, 3*time.Hour), 30*time.Minute)
}

func TestRateOfChange(t *testing.T) {
	b := newBench(t)
	b.room().Rate = 3
	b.limits()
	k := rules.RateOfChange("room")
	for what, x := range map[string]struct {
		rate float64
		want time.Duration
	}{"slow": {2.9, 0}, "not known": {math.NaN(), 0}} {
		b.room().Trend = trend(x.rate)
		check(t, what, b.raisedAfter(k, time.Hour), x.want)
	}
	b.room().Trend = trend(-3.1)
	check(t, "falling fast for", b.raisedAfter(k, time.Hour), 10*time.Minute)
	b.room().Trend = trend(2.1)
	check(t, "within the deadband: ends after", b.endsAfter(k, 2*time.Hour), 0)
	b.room().Trend = trend(1.9)
	check(t, "slow again for", b.endsAfter(k, 2*time.Hour), 30*time.Minute)
}

// The humidity in a closed box is none of the room's. It counts where the zone measures none.
func TestHumidityInABox(t *testing.T) {
	high := 0.7
	for _, x := range []struct {
		what string
		own  bool // a probe that the zone lists measures humidity
		want bool
	}{{"beside a probe of the zone", true, false}, {"alone", false, true}} {
		b := newBench(t)
		for _, p := range b.v.Probes {
			p.Humidity, p.Moist = math.NaN(), x.own
			if x.own {
				p.Humidity = 0.5
			}
		}
		b.v.Probes["boxed"] = &rules.Probe{Name: "boxed", Celsius: 25, Humidity: 0.95, Moist: true, Good: start, Fresh: true, SilentAfter: time.Minute}
		b.room().Humidity, b.room().Boxed = &rules.Band{High: &high}, []*rules.Probe{b.v.Probes["boxed"]}
		b.limits()
		b.at(0)
		check(t, x.what+": too damp", b.panel.Stands(key(alert.HumidityHigh, alert.Warning)), x.want)
	}
}
