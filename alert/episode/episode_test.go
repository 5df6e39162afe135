package episode_test

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
)

var (
	start   = time.Date(2026, 4, 2, 20, 0, 0, 0, time.UTC)
	cold    = alert.Key{Kind: alert.TemperatureLow, Priority: alert.Warning, Zone: "room"}
	unsafe  = alert.Key{Kind: alert.TemperatureLow, Priority: alert.Critical, Zone: "room"}
	falling = alert.Key{Kind: alert.DriftDown, Priority: alert.Warning, Zone: "room"}
	warm    = alert.Key{Kind: alert.TemperatureHigh, Priority: alert.Warning, Zone: "room"}
	silent  = alert.Key{Kind: alert.ProbeSilent, Priority: alert.Critical, Zone: "room", Probe: "air"}
)

// bench is one place with alarms that a test sets.
type bench struct {
	t      *testing.T
	now    time.Time
	record episode.Record
	alarms []alert.Alarm
	side   map[alert.Side]episode.Situation
	told   []episode.Told
}

func newBench(t *testing.T, keys ...alert.Key) *bench {
	b := &bench{t: t, now: start, side: map[alert.Side]episode.Situation{}}
	for _, k := range keys {
		at := 20.0
		if k == unsafe {
			at = 17
		}
		b.alarms = append(b.alarms, alert.New(k, alert.Limit{High: k == warm || k == silent, At: at, OffDelay: 5 * time.Minute, ReAlarm: time.Hour}))
	}
	b.value(23, true)
	return b
}

// value sets what both sides of the place are.
func (b *bench) value(v float64, back bool) {
	for _, side := range []alert.Side{alert.TooCold, alert.TooWarm} {
		b.side[side] = episode.Situation{Value: v, Inside: back, Back: back}
	}
}

// step has alarms stand or not, and gives the stages that are told a minute later. The record
// goes through its stored form, as after a kill.
func (b *bench) step(stands ...alert.Key) (stages []episode.Stage) {
	b.t.Helper()
	b.now = b.now.Add(time.Minute)
	var events []alert.Event
	for i, a := range b.alarms {
		on := false
		for _, k := range stands {
			on = on || k == a.Key
		}
		e := alert.Event{At: b.now, Key: a.Key, From: a.State, Began: b.now, Value: b.side[a.Key.Kind.Side()].Value, Limit: a.Limit.At, Peak: math.NaN()}
		switch {
		case on && !a.True:
			a.True, a.State, a.Began, a.Since = true, alert.Active, b.now, b.now
			e.To = alert.Active
			events = append(events, e)
		case !on && a.True:
			a.True, a.State = false, alert.Normal
			e.To = alert.Normal
			events = append(events, e)
		}
		b.alarms[i] = a
	}
	stored, err := json.Marshal(b.record)
	if err != nil {
		b.t.Fatal(err)
	}
	var back episode.Record
	if err := json.Unmarshal(stored, &back); err != nil {
		b.t.Fatal(err)
	}
	var told []episode.Told
	b.record, told = back.Step(b.now, b.alarms, events, true, func(s alert.Side) episode.Situation {
		if s == "" {
			return episode.Situation{Value: math.NaN(), Inside: true, Back: true}
		}
		return b.side[s]
	})
	b.told = append(b.told, told...)
	for _, x := range told {
		stages = append(stages, x.Stage)
	}
	return stages
}

// run steps for a time, and gives what is told.
func (b *bench) run(d time.Duration, stands ...alert.Key) (stages []episode.Stage) {
	b.t.Helper()
	for range int(d / time.Minute) {
		stages = append(stages, b.step(stands...)...)
	}
	return stages
}

func (b *bench) want(what string, got []episode.Stage, want ...episode.Stage) {
	b.t.Helper()
	if len(got) != len(want) {
		b.t.Fatalf("%s: told %v, want %v", what, got, want)
	}
	for i := range got {
		if got[i] != want[i] {
			b.t.Fatalf("%s: told %v, want %v", what, got, want)
		}
	}
}

// A failure is one story: it began, the safe limit comes near, it is passed, it holds in
// between, it is over once it is back where it usually is. All have one identity.
func TestStory(t *testing.T) {
	b := newBench(t, cold, unsafe, falling)
	b.want("a drift", b.run(30*time.Minute, falling), episode.Began)
	b.value(19.5, false)
	b.want("past wanted", b.run(30*time.Minute, cold))
	s := b.side[alert.TooCold]
	s.SafeAt = b.now.Add(90 * time.Minute)
	b.side[alert.TooCold] = s
	b.want("safe is near", b.run(30*time.Minute, cold), episode.WillPass)
	b.value(18, false)
	b.want("past safe", b.run(30*time.Minute, cold, unsafe), episode.Passed)
	b.value(19.5, false)
	b.want("safe again", b.run(30*time.Minute, cold), episode.Holds)
	b.value(22, false)
	b.want("inside, and not back", b.run(2*time.Hour), episode.Holds)
	b.value(23, true)
	b.want("back", b.run(time.Hour), episode.Over)
	b.want("nothing is left", b.run(7*time.Hour))
	if b.record != (episode.Record{}) {
		t.Errorf("after hours of quiet there is %+v", b.record)
	}
	last := b.told[len(b.told)-1]
	if last.Key != unsafe || last.To != alert.Normal || last.Peak != 18 || !last.At.Before(b.now.Add(-7*time.Hour)) {
		t.Errorf("the end is %+v", last.Event)
	}
	for _, x := range b.told {
		if x.Thread != b.told[0].Thread || x.Thread.ID == "" {
			t.Errorf("%s has the identity %+v, want %+v", x.Stage, x.Thread, b.told[0].Thread)
		}
	}
}

// Inside the wanted band for six hours it is over, although it is not where it usually is.
func TestInsideForHoursIsOver(t *testing.T) {
	b := newBench(t, cold)
	b.value(19, false)
	b.want("too cold", b.run(10*time.Minute, cold), episode.Began)
	b.side[alert.TooCold] = episode.Situation{Value: 22, Inside: true}
	b.want("an hour inside", b.run(90*time.Minute), episode.Holds)
	b.want("six hours inside", b.run(5*time.Hour), episode.Over)
}

// From the third time on one message stands for all. It is told again after 1, 6, 12 and 24
// hours and each day, at once at a new worst past safe, and its end after hours of quiet.
func TestComesAndGoes(t *testing.T) {
	b := newBench(t, cold, unsafe)
	swing := func(keys ...alert.Key) []episode.Stage {
		return append(b.run(20*time.Minute, keys...), b.run(20*time.Minute)...)
	}
	b.want("first", swing(cold), episode.Began)
	b.want("second", swing(cold))
	b.want("third", swing(cold), episode.ComesAndGoes)
	began := b.now.Add(-39 * time.Minute)
	var again []time.Duration
	for b.now.Sub(began) < 50*time.Hour {
		for _, s := range swing(cold) {
			if s != episode.ComesAndGoes {
				t.Fatalf("told %s", s)
			}
			again = append(again, b.told[len(b.told)-1].At.Sub(began).Truncate(time.Hour))
		}
	}
	if want := []time.Duration{time.Hour, 6 * time.Hour, 12 * time.Hour, 24 * time.Hour, 48 * time.Hour}; len(again) != len(want) {
		t.Errorf("told again after %v, want %v", again, want)
	}
	b.value(18, false)
	b.want("past safe", swing(cold, unsafe), episode.ComesAndGoes)
	b.want("as bad", swing(cold, unsafe))
	b.value(17.4, false)
	b.want("worse", swing(cold, unsafe), episode.ComesAndGoes)
	b.value(23, true)
	b.want("five hours quiet", b.run(5*time.Hour))
	b.want("six hours quiet", b.run(90*time.Minute), episode.Over)
	last := b.told[len(b.told)-2]
	if last.Times < 70 || last.Lowest != 17.4 || last.Highest != 23 || last.Swings {
		t.Errorf("it is %+v", last)
	}
}

// What comes and goes on both sides is one episode.
func TestBothSidesAreOneEpisode(t *testing.T) {
	b := newBench(t, cold, warm)
	b.want("cold", b.run(20*time.Minute, cold), episode.Began)
	b.want("warm", b.run(20*time.Minute, warm), episode.Began)
	b.want("cold again", b.run(20*time.Minute, cold), episode.ComesAndGoes)
	b.want("both in turns", append(b.run(20*time.Minute, warm), b.run(19*time.Minute, cold)...))
	b.want("an hour later", b.run(5*time.Minute, warm), episode.ComesAndGoes)
	last := b.told[len(b.told)-1]
	if !last.Swings || last.Thread != b.told[len(b.told)-2].Thread {
		t.Errorf("it is %+v", last)
	}
}

// A loose plug is told as one that comes and goes; an end within minutes is not told.
func TestLoosePlug(t *testing.T) {
	b := newBench(t, silent)
	var all []episode.Stage
	for range 66 {
		all = append(all, b.run(10*time.Minute, silent)...)
		all = append(all, b.run(10*time.Minute)...)
	}
	b.want("a day and night", all, episode.Began, episode.ComesAndGoes, episode.ComesAndGoes, episode.ComesAndGoes, episode.ComesAndGoes)
	b.want("mended", b.run(7*time.Hour), episode.Over)
}

// A warning waits while its value is on its way back; what is critical does not.
func TestReturningIsNotTold(t *testing.T) {
	b := newBench(t, cold, unsafe)
	b.side[alert.TooCold] = episode.Situation{Value: 19.5, Returning: true}
	b.want("it comes back", b.run(30*time.Minute, cold))
	b.value(23, true)
	b.want("and is back", b.run(2*time.Hour))
	b.side[alert.TooCold] = episode.Situation{Value: 19.5, Returning: true}
	b.want("it comes back again", b.run(10*time.Minute, cold))
	b.value(19.4, false)
	b.want("and turns", b.run(10*time.Minute, cold), episode.Began)
	b = newBench(t, cold, unsafe)
	b.side[alert.TooCold] = episode.Situation{Value: 18, Returning: true}
	b.want("past safe", b.run(time.Minute, unsafe), episode.Passed)
}

// Alarms that stood before there were records are told of no more, but for their end.
func TestAdopt(t *testing.T) {
	b := newBench(t, cold)
	b.value(19, false)
	a := &b.alarms[0]
	a.True, a.State, a.Began, a.Since = true, alert.Active, start, start
	b.record = episode.Adopt(b.now, b.alarms, true, func(s alert.Side) episode.Situation { return b.side[s] })
	b.want("it goes on", b.run(2*time.Hour, cold))
	b.value(23, true)
	b.want("its end", b.run(2*time.Hour), episode.Over)
}

// A short off-delay of the bands makes the times of quiet short.
func TestShortOffDelay(t *testing.T) {
	b := newBench(t, cold)
	b.alarms[0].Limit.OffDelay = 0
	b.value(19, false)
	b.want("too cold", b.run(time.Minute, cold), episode.Began)
	b.value(23, true)
	b.want("back", b.run(time.Minute), episode.Over)
}

// What was foretold for sooner hours ago, and is told late, is no critical message.
func TestForetoldForLaterIsAWarning(t *testing.T) {
	soon := alert.Key{Kind: alert.DriftDown, Priority: alert.Critical, Zone: "room"}
	for left, want := range map[time.Duration]alert.Key{5 * time.Hour: cold, 90 * time.Minute: soon} {
		b := newBench(t, cold, unsafe, soon)
		b.alarms[0].Key, b.alarms[2].Key = soon, cold // the critical one goes before
		b.side[alert.TooCold] = episode.Situation{Value: 19.5, Returning: true}
		b.want("it comes back", b.run(30*time.Minute, cold, soon))
		b.side[alert.TooCold] = episode.Situation{Value: 19.4, SafeAt: b.now.Add(left)}
		b.want("and turns", b.run(time.Minute, cold, soon), episode.Began)
		if got := b.told[0].Key; got != want {
			t.Errorf("%v before the safe limit it tells of %v, want %v", left, got, want)
		}
	}
}
