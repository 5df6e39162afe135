package rules_test

import (
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/thermal/book"
)

// Warm for 40 minutes, cool, and warm again: the single event counts from the second time on,
// the cumulative alarm counts both.
func TestExposure(t *testing.T) {
	b := newBench(t)
	b.full()
	b.limits()
	single, cumulative := rules.ExposureAlarm(alert.SingleEvent, "", "B1"), rules.ExposureAlarm(alert.Cumulative, "", "B1")
	raised := map[alert.Key]time.Duration{}
	for at := time.Duration(0); at <= 200*time.Minute; at += time.Minute {
		b.v.Probes["b"].Celsius = 31
		if at >= 40*time.Minute && at < 60*time.Minute {
			b.v.Probes["b"].Celsius = 29
		}
		b.at(at)
		for _, k := range []alert.Key{single, cumulative} {
			if raised[k] == 0 && b.panel.Stands(k) {
				raised[k] = at
			}
		}
	}
	check(t, "single event", raised[single], 120*time.Minute)
	check(t, "cumulative", raised[cumulative], 140*time.Minute)
	check(t, "by probe", b.panel.Probe(cumulative), "b")
	x, ok := b.set.Exceeded(single)
	check(t, "exceeded", x, rules.Exceeded{High: true, Celsius: 30, For: 140 * time.Minute})
	check(t, "known", ok, true)
}

// While it is rebuilt from the history an exposure raises nothing.
func TestExposureWaitsForTheHistory(t *testing.T) {
	b := newBench(t)
	b.full()
	b.limits()
	for _, x := range b.past.exposures {
		x.ready = false
	}
	b.v.Probes["a"].Celsius = 31
	k := rules.ExposureAlarm(alert.SingleEvent, "", "B1")
	check(t, "raised after", b.raisedAfter(k, 2*time.Hour), 0)
	for _, x := range b.past.exposures {
		x.ready = true
	}
	b.at(2*time.Hour + time.Minute)
	check(t, "rebuilt", b.panel.Stands(k), true)
}

// A zone has an alarm of its own where no box with eggs is; a box that was carried to a zone
// without limits keeps an alarm that stands.
func TestWhichExposuresAreWatched(t *testing.T) {
	b := newBench(t)
	b.full()
	b.v.Boxes[0].Eggs, b.v.Boxes[0].Histories = false, nil
	b.limits()
	zone, box := rules.ExposureAlarm(alert.SingleEvent, "room", ""), rules.ExposureAlarm(alert.SingleEvent, "", "B1")
	_, ok := b.panel.Alarm(zone)
	check(t, "an empty zone", ok, true)

	b = newBench(t)
	b.full()
	b.v.Zones = append(b.v.Zones, rules.Zone{Name: "car"})
	b.limits()
	_, ok = b.panel.Alarm(zone)
	check(t, "a zone with eggs", ok, false)
	carry := func() {
		b.v.Boxes[0].Zone = "car"
		b.v.Boxes[0].Stays = append(b.v.Boxes[0].Stays, book.Stay{Zone: "car", Box: "B1"})
		b.limits()
	}
	b.v.Probes["a"].Celsius = 31
	b.raisedAfter(box, 2*time.Hour)
	carry()
	_, ok = b.panel.Alarm(box)
	check(t, "carried away while it stands", ok, true)
	b = newBench(t)
	b.full()
	b.v.Zones = append(b.v.Zones, rules.Zone{Name: "car"})
	b.limits()
	carry()
	_, ok = b.panel.Alarm(box)
	check(t, "carried away in order", ok, false)
}

func TestExposureThatIsNotWatchedIsDropped(t *testing.T) {
	b := newBench(t)
	b.full()
	b.limits()
	n := len(b.past.exposures)
	b.limits()
	check(t, "the same eggs", len(b.past.exposures), n)
	b.set.ForgetExposures()
	check(t, "forgotten", b.past.exposures[0].dropped, true)
	b.limits()
	check(t, "asked for again", len(b.past.exposures), 2*n)
	b.room().Single, b.room().Total = nil, nil
	b.panel = panel.New(nil, poll)
	b.limits()
	check(t, "without limits", b.past.exposures[n].dropped, true)
}

// Eggs that are moved take with them the worst of the probes that they were by.
func TestExposureMoves(t *testing.T) {
	high := 30.0
	x := rules.NewExposure(alert.Cumulative, rules.ExposureLimit{High: &high})
	feel := func(probe string, from, to time.Duration, celsius float64) {
		for at := from; at <= to; at += time.Minute {
			x.Observe(rules.Sample{Probe: probe, At: start.Add(at), Celsius: celsius})
		}
	}
	b := newBench(t)
	b.full()
	b.limits()
	x.Move([]string{"a", "b"})
	feel("a", 0, 30*time.Minute, 31)
	feel("b", 0, 50*time.Minute, 31)
	x.Move([]string{"c"})
	feel("c", 50*time.Minute, 60*time.Minute, 31)
	feel("a", 50*time.Minute, 90*time.Minute, 31) // where they are no longer
	for _, v := range b.past.exposures {
		v.of = x
	}
	got, _ := b.set.Exceeded(rules.ExposureAlarm(alert.Cumulative, "", "B1"))
	check(t, "felt", got.For, time.Hour)
	x.Move(nil)
	feel("", time.Hour, 2*time.Hour, 31)
	got, _ = b.set.Exceeded(rules.ExposureAlarm(alert.Cumulative, "", "B1"))
	check(t, "where no probe is", got.For, 2*time.Hour)
}
