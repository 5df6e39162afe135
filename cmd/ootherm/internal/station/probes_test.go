package station_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/sensor"
)

// shown is a probe as the station publishes it.
func (b *bench) shown(name string) snapshot.Probe {
	b.t.Helper()
	for _, z := range b.Now().Zones {
		for _, p := range z.Probes {
			if p.Probe == name {
				return p
			}
		}
	}
	b.t.Fatalf("no probe %s is published", name)
	return snapshot.Probe{}
}

func causeOf(p snapshot.Probe) string {
	if p.Cause == nil {
		return ""
	}
	return *p.Cause
}

// threeProbes is a room whose three probes were alike for half an hour.
func threeProbes(t *testing.T) (b *bench, at time.Time) {
	p := testPlan(t)
	p.Probes = []plan.Probe{{Name: "air"}, {Name: "dummy"}, {Name: "door"}}
	p.Zones = p.Zones[:1]
	p.Zones[0].Apart, p.Zones[0].Probes = 3, []string{"air", "dummy", "door"}
	b = newBench(t, p)
	for at = began; at.Before(began.Add(30 * time.Minute)); at = at.Add(time.Minute) {
		b.observe(at, map[string]float64{"air": 23.0, "dummy": 23.2, "door": 23.4})
	}
	return b, at
}

// A probe that creeps away from its neighbours passes every screen of its own.
// Averaged in, it would shift the room; it is named instead, until it agrees
// three times in a row.
func TestProbeThatDisagreesIsNotAveragedIn(t *testing.T) {
	b, at := threeProbes(t)
	door := 23.4
	for ; door < 29; door += 0.2 {
		b.observe(at, map[string]float64{"air": 23.0, "dummy": 23.2, "door": door})
		at = at.Add(time.Minute)
	}
	p := b.shown("door")
	if p.Status != "suspect" || causeOf(p) != "disagrees" || p.Celsius != nil {
		t.Errorf("the odd probe is %s (%s) at %v, want suspect (disagrees) without a value", p.Status, causeOf(p), deref(p.Celsius))
	}
	for _, name := range []string{"air", "dummy"} {
		if q := b.shown(name); q.Status != "ok" {
			t.Errorf("%s is %s (%s): two that agree outvote one", name, q.Status, causeOf(q))
		}
	}
	if c := b.Now().Zones[0].Celsius; c == nil || math.Abs(*c-23.1) > 1e-9 {
		t.Errorf("the room is at %v, want 23.1: the middle of the two that agree", deref(c))
	}
	for ; door > 23.4; door -= 0.2 {
		b.observe(at, map[string]float64{"air": 23.0, "dummy": 23.2, "door": door})
		at = at.Add(time.Minute)
	}
	if p := b.shown("door"); p.Status != "ok" {
		t.Errorf("back among its neighbours it is %s (%s)", p.Status, causeOf(p))
	}
	if n := b.shown("door").Errors["disagrees"]; n < 5 {
		t.Errorf("%d readings were counted as disagreeing", n)
	}
}

// One reading that agrees is no probe that agrees.
func TestProbeAgreesAtTheThirdReading(t *testing.T) {
	b, at := threeProbes(t)
	var got string
	for _, door := range []float64{23.4, 24.4, 25.4, 26.4, 25.9, 25.9, 25.9, 25.9} {
		b.observe(at, map[string]float64{"air": 23.0, "dummy": 23.2, "door": door})
		at = at.Add(time.Minute)
		got += " " + b.shown("door").Status
	}
	if want := " ok ok ok suspect suspect suspect ok ok"; got != want {
		t.Errorf("told%s, want%s", got, want)
	}
}

// Of two that disagree nobody can tell which is wrong: the room has no
// temperature, yet the alarm goes by the worse of them.
func TestTwoThatDisagreeStillAlarm(t *testing.T) {
	p := testPlan(t)
	p.Zones[0].Apart = 3
	b := newBench(t, p)
	at, dummy := began, 23.2
	for range 60 {
		dummy = min(dummy+0.2, 30)
		b.observe(at, map[string]float64{"air": 23.2, "dummy": dummy, "warm": 27})
		at = at.Add(time.Minute)
	}
	z := b.Now().Zones[0]
	if z.Celsius != nil {
		t.Errorf("the room is at %v though its probes are 6 K apart", *z.Celsius)
	}
	for _, p := range z.Probes {
		if p.Status != "suspect" || causeOf(p) != "disagrees" {
			t.Errorf("%s is %s (%s)", p.Probe, p.Status, causeOf(p))
		}
	}
	high := false
	for _, a := range b.Now().Alarms {
		high = high || a.Alarm == "temperature-high" && a.State == "active" && *a.Zone == "room"
	}
	if !high {
		t.Errorf("no alarm tells of 30 C: %+v", b.Now().Alarms)
	}
	if b.Now().Zones[1].Probes[0].Saturated {
		t.Error("a probe without humidity is saturated")
	}
}

// Two probes that stand 5 K apart are both heard: neither is silent, and a box
// goes on feeling the one that is buried in it, after a restart too.
func TestTwoThatDisagreeAreStillFelt(t *testing.T) {
	b := newBench(t, testPlan(t))
	b.note(season)
	b.note(`{"key":"m1","at":"2026-04-02T19:00:00Z","entry":"moved","egg":"T1-1","box":"B2","slot":"a"}` + "\n")
	at := began
	for ; at.Before(began.Add(12 * time.Hour)); at = at.Add(time.Minute) {
		b.observe(at, map[string]float64{"air": 28, "dummy": 23.2, "warm": 27})
	}
	felt := func(what string) {
		t.Helper()
		b.note(`{"key":"` + what + `","at":"2026-04-03T06:59:00Z","entry":"note","about":"B2","text":"compute again"}` + "\n")
		c := boxOf(b.Now(), "B2").Clutches[0]
		if c.EquivalentCelsius == nil || math.Abs(*c.EquivalentCelsius-23) > 0.02 || *c.Observed < 0.99 {
			t.Errorf("%s: the eggs at the buried probe felt %v C, measured %v of the time; want 23 all the time", what, deref(c.EquivalentCelsius), deref(c.Observed))
		}
	}
	felt("live")
	for _, a := range b.Now().Alarms {
		if a.Alarm == "probe-silent" {
			t.Errorf("a probe that answers is called silent: %+v", a)
		}
	}
	b.start(at)
	felt("rebuilt")
}

// In a wet box the humidity is a sign of wetness, and no fault.
func TestSaturatedIsASignNotAFault(t *testing.T) {
	b := newBench(t, testPlan(t))
	for i := range 5 {
		at := began.Add(time.Duration(i) * time.Minute)
		if err := b.Observe(t.Context(), []sensor.Reading{{
			Probe: "warm", Stamp: sensor.Stamp{Boot: b.options.Boot.Number, Uptime: at.Sub(began)},
			Measurement: sensor.Measurement{Celsius: 27, Humidity: 1.04},
		}}); err != nil {
			t.Fatal(err)
		}
	}
	p := b.shown("warm")
	if !p.Saturated || p.Status != "ok" || causeOf(p) != "" || p.Humidity == nil || *p.Humidity != 1 {
		t.Errorf("a probe past 100 %% is %+v, want ok, saturated, at 1", p)
	}
}

// A calibration noted late reaches back to when it holds from: what the eggs felt
// is computed again from readings that stay as they were, and stays the same
// through a restart. It takes the place of the configuration's offset.
func TestCalibrationReachesBack(t *testing.T) {
	b := newBench(t, testPlan(t))
	b.note(season)
	at := began
	run := func(until time.Duration) {
		for ; at.Before(began.Add(until)); at = at.Add(time.Minute) {
			b.observe(at, map[string]float64{"air": 23, "dummy": 23.5, "warm": 27 + 0.01*float64(at.Minute()%3)})
		}
	}
	felt := func(box, clutch int) float64 {
		t.Helper()
		if err := b.Tick(t.Context(), at); err != nil {
			t.Fatal(err)
		}
		return *b.Now().Boxes[box].Clutches[clutch].EquivalentCelsius
	}
	b.note(`{"key":"m1","at":"2026-04-02T19:00:00Z","entry":"moved","egg":"T1-1","box":"B2","slot":"a"}` + "\n")
	run(4 * 24 * time.Hour)
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 0.02 {
			t.Errorf("%s: %.3f C, want %.3f", what, got, want)
		}
	}
	near("with the configuration's offset", felt(1, 0), 23.3)
	raw := b.past("dummy")
	b.note(`{"key":"k1","at":"2026-04-06T18:00:00Z","entry":"calibrated","probe":"dummy","from":"2026-04-02T18:00:00Z","points":[{"reference_c":0,"read_c":1.0}]}` + "\n")
	near("calibrated at the ice point, from the start", felt(1, 0), 22.5)
	near("the room's two probes", felt(0, 0), (23+22.5)/2)
	if now := b.past("dummy"); now != raw {
		t.Errorf("the raw readings were %s and are %s", raw, now)
	}
	run(4*24*time.Hour + 5*time.Minute)
	if c := b.shown("dummy").Celsius; c == nil || math.Abs(*c-22.5) > 1e-9 {
		t.Errorf("it shows %v, want 22.5", deref(c))
	}
	live := felt(1, 0)
	b.start(at)
	if rebuilt := felt(1, 0); math.Abs(rebuilt-live) > 1e-6 {
		t.Errorf("rebuilt %.9f, live %.9f", rebuilt, live)
	}
	b.note(`{"key":"k2","at":"2026-04-06T19:00:00Z","entry":"void","void":"k1"}` + "\n")
	near("and undone", felt(1, 0), 23.3)
}

// past is a fingerprint of the raw readings that the history has of a probe.
func (b *bench) past(probe string) string {
	b.t.Helper()
	n, sum := 0, 0.0
	for p, err := range b.options.History.Range(probe, began, began.Add(4*24*time.Hour)) {
		if err != nil {
			b.t.Fatal(err)
		}
		n++
		sum += p.Celsius
	}
	return fmt.Sprintf("%d readings, %.6f in all", n, sum)
}

// A probe 0.5 K warm reads 1.5 points too dry at 24 C and 50 %; the salt's point
// is taken after that.
func TestHumidityIsCorrectedThroughVapourPressure(t *testing.T) {
	b := newBench(t, testPlan(t))
	at := began
	see := func() snapshot.Probe {
		t.Helper()
		if err := b.Observe(t.Context(), []sensor.Reading{{
			Probe: "warm", Stamp: sensor.Stamp{Boot: b.options.Boot.Number, Uptime: at.Sub(began)},
			Measurement: sensor.Measurement{Celsius: 24.5, Humidity: 0.485},
		}}); err != nil {
			t.Fatal(err)
		}
		at = at.Add(time.Minute)
		return b.shown("warm")
	}
	see()
	b.note(`{"key":"k1","at":"2026-04-02T19:00:00Z","entry":"calibrated","probe":"warm","points":[{"reference_c":0,"read_c":0.5}]}` + "\n")
	if p := see(); math.Abs(*p.Celsius-24) > 1e-9 || math.Abs(*p.Humidity-0.5) > 0.001 {
		t.Errorf("%.3f C and %.4f, want 24 and 0.5", *p.Celsius, *p.Humidity)
	}
	b.note(`{"key":"k2","at":"2026-04-02T19:01:00Z","entry":"calibrated","probe":"warm","points":[{"reference_rh":0.7547,"read_rh":0.7747}]}` + "\n")
	if p := see(); math.Abs(*p.Celsius-24) > 1e-9 || math.Abs(*p.Humidity-0.48) > 0.001 {
		t.Errorf("%.3f C and %.4f, want 24 (the ice point holds on) and 0.48", *p.Celsius, *p.Humidity)
	}
}

// A box carried from a cool shelf into warm, wet air: dew forms on what is colder
// than the air's dew point, until the box is as warm.
func TestBoxThatIsCarriedIntoWetAirIsTold(t *testing.T) {
	for _, c := range []struct {
		humidity float64
		after    time.Duration
		want     bool
	}{{0.9, 5 * time.Minute, true}, {0.5, 5 * time.Minute, false}, {0.9, 3 * time.Hour, false}} {
		b := newBench(t, testPlan(t))
		b.note(season)
		see := func(at time.Time) {
			t.Helper()
			var all []sensor.Reading
			for name, m := range map[string]sensor.Measurement{"air": {Celsius: 20, Humidity: 0.5}, "dummy": {Celsius: 20.2, Humidity: math.NaN()}, "warm": {Celsius: 28, Humidity: c.humidity}} {
				all = append(all, sensor.Reading{Probe: name, Stamp: sensor.Stamp{Boot: b.options.Boot.Number, Uptime: at.Sub(began)}, Measurement: m})
			}
			if err := b.Observe(t.Context(), all); err != nil {
				t.Fatal(err)
			}
		}
		see(began)
		b.note(`{"key":"c1","at":"2026-04-02T19:01:00Z","entry":"moved","box":"B1","zone":"incubator"}` + "\n")
		see(began.Add(c.after))
		if got := b.Now().Boxes[0].Condensing; got != c.want {
			t.Errorf("%v after a move from 20 C into 28 C and %.0f %%: condensing %v", c.after, c.humidity*100, got)
		}
	}
}

func boxOf(n *snapshot.Snapshot, id string) snapshot.Box {
	for _, x := range n.Boxes {
		if x.Box == id {
			return x
		}
	}
	return snapshot.Box{}
}
