package rules_test

import (
	"cmp"
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
)

// cooling is a room that has been at 25 C for three days and then loses 2 K an hour.
func cooling(t *testing.T) (*bench, time.Duration) {
	low := 20.0
	b := newBench(t)
	b.room().Wanted = &rules.Band{Low: &low}
	b.limits()
	at := time.Duration(0)
	for ; at < 72*time.Hour; at += 5 * time.Minute {
		b.at(at)
	}
	return b, at
}

func (b *bench) cool(at time.Duration, perHour float64) {
	for _, p := range b.v.Probes {
		p.Celsius += perHour / 12
	}
	b.at(at)
}

func TestDriftIsForetoldAndHiddenUnderItsBand(t *testing.T) {
	b, at := cooling(t)
	k, band := rules.Drift("room", false), key(alert.TemperatureLow, alert.Warning)
	if b.panel.Stands(k) {
		t.Fatal("a steady room drifts")
	}
	for !b.panel.Stands(k) {
		if at += 5 * time.Minute; b.panel.Stands(band) {
			t.Fatal("the limit was passed without a drift")
		}
		b.cool(at, -2)
	}
	coming, probe, ok := b.set.Coming(k)
	if !ok || probe != "a" || !coming.At.After(b.v.Now) || coming.Limit != 20 {
		t.Errorf("foretold %+v by %q (%v)", coming, probe, ok)
	}
	for !b.panel.Stands(band) {
		at += 5 * time.Minute
		b.cool(at, -2)
	}
	if x, _ := b.panel.Alarm(k); !x.Hidden || !x.True {
		t.Errorf("past the limit the drift stands %v, hidden %v", x.True, x.Hidden)
	}
}

// A drift whose room levels off stands until the value is back where it usually is, and says
// how far it is from that. Where it goes on it is called again.
func TestDriftHoldsUntilItIsBack(t *testing.T) {
	b, at := cooling(t)
	k := rules.Drift("room", false)
	step := func(perHour float64) {
		at += 5 * time.Minute
		b.cool(at, perHour)
	}
	for !b.panel.Stands(k) {
		step(-2)
	}
	began, held := at, b.v.Probes["a"].Celsius
	for foretold := true; foretold; _, _, foretold = b.set.Coming(k) {
		step(0)
	}
	for range 24 {
		step(0)
	}
	x, ok := b.set.Level(&b.v, "room", false)
	if !ok || !x.Holding || x.Back || x.Celsius != held || math.Abs(x.Usual-25) > 0.01 || math.Abs(x.Difference-(held-25)) > 0.01 {
		t.Errorf("it holds at %.2f C, two hours after the last call: %+v, %v", held, x, ok)
	}
	if !b.panel.Stands(k) {
		t.Fatalf("it ended after %v at %.2f C", at-began, held)
	}
	if err := b.panel.Act(panel.Action{Do: panel.Acknowledge, Alarm: k.String(), Who: "anna"}); err != nil {
		t.Fatal(err)
	}
	b.panel.Take()
	again := 0
	for range 12 {
		step(-2)
		for _, e := range b.panel.Take() {
			if e.Key == k && e.ReAlarm {
				again++
			}
		}
	}
	check(t, "called again where it goes on", again, 1)
	var back time.Duration
	for b.panel.Stands(k) {
		step(min(4, 12*(25-b.v.Probes["a"].Celsius)))
		if x, _ := b.set.Level(&b.v, "room", false); x.Back && back == 0 {
			back = at
		}
		if at-began > 24*time.Hour {
			t.Fatal("it does not end")
		}
	}
	if after := at - back; after < 30*time.Minute || after > 3*time.Hour {
		t.Errorf("it ends %v after it is back", after)
	}
}

// Where the value stays inside the band for six hours after the last call, it has another
// level: the drift ends.
func TestDriftEndsAtAnotherLevel(t *testing.T) {
	b, at := cooling(t)
	k := rules.Drift("room", false)
	for !b.panel.Stands(k) {
		at += 5 * time.Minute
		b.cool(at, -2)
	}
	var last time.Duration
	for b.panel.Stands(k) && at < 120*time.Hour {
		at += 5 * time.Minute
		b.cool(at, 0)
		if _, _, ok := b.set.Coming(k); ok {
			last = at
		}
	}
	if after := at - last; after < 6*time.Hour || after > 7*time.Hour {
		t.Errorf("it ends %v after the last call", after)
	}
}

// Each probe that watches a zone is taught once; another limit keeps what was learned, and a
// boot that is dated again teaches all.
func TestWhenDriftsAreTaught(t *testing.T) {
	low, lower := 20.0, 19.0
	b := newBench(t)
	b.room().Wanted = &rules.Band{Low: &low}
	b.limits()
	check(t, "at first", len(b.past.asked), 2)
	b.limits()
	check(t, "the same band", len(b.past.asked), 2)
	b.room().Wanted = &rules.Band{Low: &lower}
	b.limits()
	check(t, "another band", len(b.past.asked), 2)
	check(t, "the old one is dropped", b.past.drifts[0].dropped, false)
	b.v.Probes["boxed"] = &rules.Probe{Name: "boxed", Celsius: 25, Good: start, Fresh: true}
	b.room().Boxed = []*rules.Probe{b.v.Probes["boxed"]}
	b.limits()
	check(t, "a box has a probe of its own", len(b.past.asked), 3)
	b.room().Boxed = nil
	b.limits()
	check(t, "the box is gone: its drift is dropped", b.past.drifts[2].dropped, true)
	b.set.Shift(&b.v, time.Hour)
	check(t, "dated again", len(b.past.asked), 5)
	b.room().Wanted = nil
	b.limits()
	check(t, "without a band it is dropped", b.past.drifts[3].dropped, true)
}

// A room that stands half a kelvin below its wanted limit, warned and seen, and whose heater
// then dies is called before the safe limit is passed, by half of the time there is.
func TestDriftFromOutsideTheWantedBand(t *testing.T) {
	low, safe := 22.0, 20.0
	b := newBench(t)
	b.room().Wanted, b.room().Safe = &rules.Band{Low: &low, OnDelay: 10 * time.Minute}, &rules.Band{Low: &safe, OnDelay: 10 * time.Minute}
	b.limits()
	for _, p := range b.v.Probes {
		p.Celsius = 21.5
	}
	at := time.Duration(0)
	for ; at < 72*time.Hour; at += time.Minute {
		b.at(at)
	}
	warning, urgent, passed := rules.Drift("room", false), rules.UrgentDrift("room", false), key(alert.TemperatureLow, alert.Critical)
	if !b.panel.Stands(key(alert.TemperatureLow, alert.Warning)) || b.panel.Stands(warning) || b.panel.Stands(urgent) {
		t.Fatal("a steady room half a kelvin too cold is warned of, and does not drift")
	}
	failed := at
	var called, critical time.Duration
	for ; !b.panel.Stands(passed); at += time.Minute {
		fallen := 10 * (1 - math.Exp(-(at-failed).Hours()/6))
		for _, p := range b.v.Probes {
			p.Celsius = 21.5 - fallen
		}
		b.at(at)
		x, _ := b.panel.Alarm(warning)
		if called == 0 && x.State == alert.Active {
			called = at - failed
		}
		if critical == 0 && b.panel.Stands(urgent) {
			critical = at - failed
			if c, probe, ok := b.set.SafeComing("room", false); !ok || probe == "" || c.Limit != 20 || c.At.Sub(b.v.Now) > 2*time.Hour {
				t.Errorf("urgent with %+v by %q (%v)", c, probe, ok)
			}
		}
	}
	there := at - failed
	if first := min(cmp.Or(called, there), cmp.Or(critical, there)); first > there/2 {
		t.Errorf("warned after %v, critical after %v; the safe limit's alarm comes after %v", called, critical, there)
	}
	if x, _ := b.panel.Alarm(urgent); x.State != alert.Suppressed {
		t.Errorf("under the safe limit's alarm the drift is %s", x.State)
	}
	for _, e := range b.panel.Take() {
		if e.Notify && e.To != alert.Active {
			t.Errorf("%s: an end is told while it gets colder", e.Key)
		}
	}
}

// Priority follows the time that is left until the safe limit: what passes it in three hours is
// a warning, what passes it within two is critical.
func TestDriftIsUrgentByTheTimeLeft(t *testing.T) {
	low, safe := 22.0, 20.0
	b := newBench(t)
	b.room().Wanted, b.room().Safe = &rules.Band{Low: &low}, &rules.Band{Low: &safe}
	b.limits()
	at := time.Duration(0)
	for ; at < 72*time.Hour; at += 5 * time.Minute {
		b.at(at)
	}
	urgent := rules.UrgentDrift("room", false)
	for !b.panel.Stands(urgent) {
		if c, _, ok := b.set.SafeComing("room", false); ok && c.At.Sub(b.v.Now) <= 2*time.Hour {
			t.Fatalf("the safe limit is passed at %v, and it is %v", c.At, b.v.Now)
		}
		at += 5 * time.Minute
		if b.cool(at, -1); b.panel.Stands(key(alert.TemperatureLow, alert.Critical)) {
			t.Fatal("the safe limit was passed without an urgent drift")
		}
	}
	if c, _, _ := b.set.SafeComing("room", false); c.At.Sub(b.v.Now) < 90*time.Minute {
		t.Errorf("it is urgent %v before the safe limit is passed, want two hours", c.At.Sub(b.v.Now))
	}
	if !b.panel.Stands(rules.Drift("room", false)) {
		t.Error("the drift was no warning before it was urgent")
	}
}

// A time that went by without the limit being passed was wrong, and is foretold no more: a room
// that levels off above its safe limit is not about to pass it.
func TestTimeThatWentByIsNotForetold(t *testing.T) {
	low, safe := 22.0, 20.0
	b := newBench(t)
	b.room().Wanted, b.room().Safe = &rules.Band{Low: &low}, &rules.Band{Low: &safe}
	b.limits()
	at := time.Duration(0)
	for ; at < 72*time.Hour; at += 5 * time.Minute {
		b.at(at)
	}
	urgent := rules.UrgentDrift("room", false)
	for !b.panel.Stands(urgent) {
		at += 5 * time.Minute
		b.cool(at, -1)
	}
	c, _, _ := b.set.SafeComing("room", false)
	for end := at + 4*time.Hour; at < end; at += time.Minute {
		b.at(at)
		if x, _, ok := b.set.SafeComing("room", false); ok && x.At.Before(b.v.Now) {
			t.Fatalf("at %v the safe limit is foretold for %v; first it was %v", b.v.Now, x.At, c.At)
		}
	}
	if b.panel.Stands(urgent) {
		t.Error("the drift is urgent four hours after the room levelled off")
	}
}

// The probe of a box that no zone lists drifts by itself: a heat mat that sticks under it.
func TestBoxedProbeDrifts(t *testing.T) {
	high := 28.0
	b := newBench(t)
	b.v.Probes["boxed"] = &rules.Probe{Name: "boxed", Celsius: 25, Good: start, Fresh: true}
	b.room().Wanted, b.room().Boxed = &rules.Band{High: &high}, []*rules.Probe{b.v.Probes["boxed"]}
	b.limits()
	at := time.Duration(0)
	for ; at < 72*time.Hour; at += 5 * time.Minute {
		b.at(at)
	}
	for k := rules.Drift("room", true); !b.panel.Stands(k); b.at(at) {
		at += 5 * time.Minute
		if b.v.Probes["boxed"].Celsius += 0.1; b.v.Probes["boxed"].Celsius >= high {
			t.Fatal("its box passed the limit without a drift")
		}
	}
	check(t, "by probe", b.panel.Probe(rules.Drift("room", true)), "boxed")
}
