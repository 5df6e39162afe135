package rules_test

import (
	"testing"
	"time"

	"example.com/ootherm/alert"
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

func TestDriftEndsHalfAnHourAfterTheLastCall(t *testing.T) {
	b, at := cooling(t)
	k := rules.Drift("room", false)
	for !b.panel.Stands(k) {
		at += 5 * time.Minute
		b.cool(at, -2)
	}
	var last time.Duration
	for b.panel.Stands(k) {
		if at += 5 * time.Minute; at > 96*time.Hour {
			t.Fatal("it does not end")
		}
		b.cool(at, 0.5)
		if _, _, ok := b.set.Coming(k); ok {
			last = at
		}
	}
	check(t, "it ends after the last call by", at-last, 35*time.Minute)
}

// A band that is as it was keeps what was learned; another limit is taught again, and a boot
// that is dated again teaches all.
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
	check(t, "another band", len(b.past.asked), 4)
	check(t, "the old one is dropped", b.past.drifts[0].dropped, true)
	b.set.Shift(&b.v, time.Hour)
	check(t, "dated again", len(b.past.asked), 6)
	b.room().Wanted = nil
	b.limits()
	check(t, "without a band it is dropped", b.past.drifts[4].dropped, true)
}
