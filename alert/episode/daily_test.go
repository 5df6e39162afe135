package episode_test

import (
	"encoding/json"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
)

var dry = alert.Key{Kind: alert.HumidityLow, Priority: alert.Warning, Zone: "room"}

// until lets time pass in which nothing stands, up to a time after the first minute.
func (b *bench) until(d time.Duration) {
	b.t.Helper()
	b.value(23, true)
	b.want("nothing stands", b.run(2*time.Hour))
	b.skip(d)
}

// skip goes to a time after the first minute. Nothing stands in between.
func (b *bench) skip(d time.Duration) {
	b.t.Helper()
	at := start.Add(d)
	if at.Before(b.now) {
		b.t.Fatalf("%v is over", d)
	}
	b.now = at.Add(-time.Minute)
	b.want("nothing stands", b.step())
}

// night is an episode of the cold side that begins some time after the first minute.
func (b *bench) night(at, lasts time.Duration, value float64, keys ...alert.Key) []episode.Stage {
	b.t.Helper()
	b.skip(at)
	b.value(value, false)
	all := b.run(lasts, keys...)
	b.value(23, true)
	return append(all, b.run(2*time.Hour)...)
}

// again is an alarm that lasts and is called again.
func (b *bench) again(k alert.Key, value float64) (stages []episode.Stage) {
	var told []episode.Told
	b.now = b.now.Add(time.Minute)
	e := alert.Event{At: b.now, Key: k, From: alert.Active, To: alert.Active, Value: value, ReAlarm: true}
	b.record, told = b.record.Step(b.now, b.alarms, []alert.Event{e}, true, func(s alert.Side) episode.Situation { return b.side[s] })
	for _, x := range told {
		stages = append(stages, x.Stage)
	}
	return stages
}

const (
	hour = time.Hour
	day  = 24 * hour
)

// threeNights is a place that was a little too cold for four hours of three nights, each at
// 20:00, of which a person was told.
func threeNights(t *testing.T, keys ...alert.Key) *bench {
	t.Helper()
	if len(keys) == 0 {
		keys = []alert.Key{cold, unsafe, falling}
	}
	b := newBench(t, keys...)
	for n := range 3 {
		b.want("a night", b.night(time.Duration(n)*day, 4*hour, 19.6, keys[0]), episode.Began, episode.Over)
		if days := b.told[len(b.told)-2].Days; days != n+1 {
			t.Errorf("night %d is the %d. at this hour", n, days)
		}
	}
	return b
}

// What comes every night is told on three nights; then where it is worse by half a kelvin, at
// another hour, two hours longer, foretold to pass the safe limit, beside another alarm, after
// more than two nights without it, and after a week.
func TestEveryNight(t *testing.T) {
	told := []episode.Stage{episode.Began, episode.Over}
	for name, c := range map[string]struct {
		at, lasts time.Duration
		value     float64
		keys      []alert.Key
		soon      time.Duration // the safe limit is foretold; 0: it is not
		want      []episode.Stage
		unlike    episode.Unlike
	}{
		"as before":                   {at: 3 * day, lasts: 4 * hour, value: 19.6},
		"for some minutes":            {at: 3 * day, lasts: 10 * time.Minute, value: 19.6},
		"a little worse":              {at: 3 * day, lasts: 4 * hour, value: 19.2},
		"worse":                       {at: 3 * day, lasts: 4 * hour, value: 19.05, want: told, unlike: episode.UnlikeWorse},
		"an hour earlier":             {at: 3*day - hour, lasts: 5 * hour, value: 19.6},
		"3 h earlier":                 {at: 3*day - 3*hour, lasts: 4 * hour, value: 19.6, want: told},
		"5 h later":                   {at: 3*day + 5*hour, lasts: 50 * time.Minute, value: 19.6},
		"7 h later":                   {at: 3*day + 7*hour, lasts: 4 * hour, value: 19.6, want: told},
		"100 minutes longer":          {at: 3 * day, lasts: 340 * time.Minute, value: 19.6},
		"3 h longer":                  {at: 3 * day, lasts: 7 * hour, value: 19.6, want: told, unlike: episode.UnlikeLonger},
		"after two nights without it": {at: 5 * day, lasts: 4 * hour, value: 19.6},
		"after three":                 {at: 6 * day, lasts: 4 * hour, value: 19.6, want: told},
		"safe is near":                {at: 3 * day, lasts: 4 * hour, value: 19.6, soon: 110 * time.Minute, want: told, unlike: episode.UnlikeAlarm},
		"safe is not near":            {at: 3 * day, lasts: 4 * hour, value: 19.6, soon: 7 * hour},
		"it falls as never before":    {at: 3 * day, lasts: 4 * hour, value: 19.6, keys: []alert.Key{cold, falling}, want: told, unlike: episode.UnlikeAlarm},
		"the safe limit is passed":    {at: 3 * day, lasts: 4 * hour, value: 19.6, keys: []alert.Key{cold, unsafe}, want: []episode.Stage{episode.Passed, episode.Over}},
	} {
		t.Run(name, func(t *testing.T) {
			b := threeNights(t)
			b.until(c.at)
			b.value(c.value, false)
			if c.soon > 0 {
				s := b.side[alert.TooCold]
				s.SafeAt = b.now.Add(c.soon)
				b.side[alert.TooCold] = s
			}
			if c.keys == nil {
				c.keys = []alert.Key{cold}
			}
			all := b.run(c.lasts, c.keys...)
			b.value(23, true)
			b.want(name, append(all, b.run(2*hour)...), c.want...)
			if len(c.want) > 0 && c.want[0] == episode.Began {
				want := map[bool]int{true: 1, false: 4}[name == "3 h earlier" || name == "7 h later" || name == "after three"]
				if got := b.told[len(b.told)-2].Days; got != want {
					t.Errorf("it is told as the %d. day, want %d", got, want)
				}
				if got := b.told[len(b.told)-2].Unlike; got != c.unlike {
					t.Errorf("it is told as unlike the others: %q, want %q", got, c.unlike)
				}
			}
		})
	}
}

// Each week it is told again. A slow decline is told as well, on three nights: then those count.
func TestEveryNightForWeeks(t *testing.T) {
	b := threeNights(t)
	var told []int
	for n := 3; n < 24; n++ {
		if len(b.night(time.Duration(n)*day, 4*hour, 19.6, cold)) > 0 {
			told = append(told, n)
			if x := b.told[len(b.told)-2]; x.Days != n+1 || x.Unlike != "" {
				t.Errorf("night %d is told as the %d. day, unlike the others %q", n, x.Days, x.Unlike)
			}
		}
	}
	if !slices.Equal(told, []int{9, 16, 23}) {
		t.Errorf("told on the nights %d, want 9, 16 and 23", told)
	}
	b, told = threeNights(t), nil
	for n := 3; n < 12; n++ {
		if len(b.night(time.Duration(n)*day, 4*hour, 19.6-0.15*float64(n-2), cold)) > 0 {
			told = append(told, n)
		}
	}
	if !slices.Equal(told, []int{6, 7, 8, 11}) {
		t.Errorf("a slow decline is told on the nights %d, want 6, 7, 8 and 11", told)
	}
}

// One night that was unlike the others teaches nothing, whether it is the first of them, one of
// the three that were told of or a later one.
func TestOneLongNightTeachesNothing(t *testing.T) {
	for at := range 5 {
		b := newBench(t, cold, unsafe)
		for n := range 5 {
			lasts := 4 * hour
			if n == at {
				lasts = 11 * hour
			}
			b.night(time.Duration(n)*day, lasts, 19.6, cold)
		}
		b.want("as most nights", b.night(5*day, 4*hour, 19.6, cold))
		b.want("a long one", b.night(6*day, 7*hour, 19.6, cold), episode.Began, episode.Over)
	}
}

// What was expected is forgotten when the safe limit is passed, or the band is another.
func TestForgetsEveryNight(t *testing.T) {
	b := threeNights(t)
	b.night(3*day, 4*hour, 16.5, cold, unsafe)
	b.want("the night after", b.night(4*day, 4*hour, 19.6, cold), episode.Began, episode.Over)
	b = threeNights(t)
	b.alarms[0].Limit.At = 20.5
	b.want("another band", b.night(3*day, 4*hour, 19.6, cold), episode.Began, episode.Over)
}

// Near the safe limit a quarter of the way to it is worse.
func TestNearTheSafeLimit(t *testing.T) {
	for value, told := range map[float64]bool{19.45: false, 19.35: true} {
		b := newBench(t, cold, unsafe)
		b.alarms[1].Limit.At = 18.8
		for n := range 3 {
			b.night(time.Duration(n)*day, 4*hour, 19.6, cold)
		}
		if got := b.night(3*day, 4*hour, value, cold); len(got) > 0 != told {
			t.Errorf("%v C, with 0.2 K for a quarter: told %v", value, got)
		}
	}
}

// Another probe of the place is another matter, unless it was the worst on those days too.
func TestAnotherProbeEveryNight(t *testing.T) {
	for name, c := range map[string]struct {
		before, now []string
		told        bool
	}{
		"the same":         {[]string{"wall"}, []string{"wall"}, false},
		"another":          {[]string{"wall"}, []string{"shelf"}, true},
		"part of its name": {[]string{"wallpaper"}, []string{"paper"}, true},
		"either":           {[]string{"wall", "shelf"}, []string{"shelf"}, false},
	} {
		b := newBench(t, cold, unsafe)
		night := func(n int, probes []string) (all []episode.Stage) {
			b.skip(time.Duration(n) * day)
			for i := range 120 {
				b.side[alert.TooCold] = episode.Situation{Value: 19.6, Probe: probes[i%len(probes)]}
				all = append(all, b.step(cold)...)
			}
			b.value(23, true)
			return append(all, b.run(2*hour)...)
		}
		for n := range 3 {
			night(n, c.before)
		}
		if got := night(3, c.now); len(got) > 0 != c.told || c.told && b.told[len(b.told)-2].Unlike != episode.UnlikeProbe {
			t.Errorf("%s: told %v", name, got)
		}
	}
}

// Three hours of the day are kept beside each other.
func TestThreeHoursOfTheDay(t *testing.T) {
	b := newBench(t, cold, unsafe)
	var last []episode.Stage
	for n := range 4 {
		at := time.Duration(n) * day
		last = b.night(at, 2*hour, 19.6, cold)
		last = append(last, b.night(at+8*hour, 30*time.Minute, 19.8, cold)...)
		last = append(last, b.night(at+15*hour, 30*time.Minute, 19.9, cold)...)
	}
	b.want("the fourth day", last)
}

// A value that is missing for some minutes says nothing; for longer, it is told.
func TestAHoleInAnExpectedNight(t *testing.T) {
	b := threeNights(t)
	b.until(3 * day)
	b.value(19.6, false)
	b.want("as before", b.run(2*hour, cold))
	b.alarms[0].Last.At, b.alarms[0].Last.Hole = b.now.Add(-time.Hour), true // as it was stored, after a restart
	b.value(23, true)                                                        // of another probe
	b.want("a hole", b.run(9*time.Minute, cold))
	b.want("a long hole", b.run(5*time.Minute, cold), episode.Began)
}

// An alarm that lasts is not called again where it is expected, nor within four hours of a
// message that came late.
func TestExpectedIsNotCalledAgain(t *testing.T) {
	b := threeNights(t)
	b.until(3 * day)
	b.value(19.6, false)
	b.want("as before", b.run(2*hour, cold))
	b.want("called again", b.again(cold, 19.6))
	b.value(19, false)
	b.want("worse", b.run(3*hour, cold), episode.Began)
	b.want("called again after 3 h", b.again(cold, 19))
	b.want("it goes on", b.run(2*hour, cold))
	b.want("called again after 5 h", b.again(cold, 19), episode.Again)
}

// What lasts for more than 16 hours of a day is not expected on the next, nor what passed the safe
// limit, nor what nobody was told of.
func TestNotEveryNight(t *testing.T) {
	for name, night := range map[string]func(b *bench, at time.Duration){
		"17 h":          func(b *bench, at time.Duration) { b.night(at, 17*hour, 19.6, cold) },
		"past the safe": func(b *bench, at time.Duration) { b.night(at, 4*hour, 18, cold, unsafe) },
		"it returned before it was told": func(b *bench, at time.Duration) {
			b.skip(at)
			b.side[alert.TooCold] = episode.Situation{Value: 19.5, Returning: true}
			b.run(20*time.Minute, cold)
			b.until(at + 3*hour)
		},
	} {
		b := newBench(t, cold, unsafe)
		for n := range 3 {
			night(b, time.Duration(n)*day)
		}
		b.want(name, b.night(3*day, 2*hour, 19.6, cold), episode.Began, episode.Over)
		if got := b.told[len(b.told)-2].Days; got != 1 {
			t.Errorf("%s: the fourth is told as the %d. day", name, got)
		}
	}
}

// window is a window that is open: for some minutes the safe limit may be passed soon, for some
// more the value is on its way back. Then it is back, or stays as it is for the last minutes.
func (b *bench) window(at, open, returns, stays time.Duration, keys ...alert.Key) (all []episode.Stage) {
	b.t.Helper()
	b.skip(at)
	for shut := b.now.Add(open); b.now.Before(shut); {
		b.side[alert.TooCold] = episode.Situation{Value: 19.2 + 0.3*float64(shut.Sub(b.now))/float64(open), SafeAt: shut.Add(hour)}
		all = append(all, b.step(keys...)...)
	}
	b.side[alert.TooCold] = episode.Situation{Value: 19.6, Returning: true}
	all = append(all, b.run(returns, keys...)...)
	for end := b.now.Add(stays); b.now.Before(end); {
		b.side[alert.TooCold] = episode.Situation{Value: 19.6, SafeAt: b.now.Add(hour)}
		all = append(all, b.step(keys...)...)
	}
	b.value(23, true)
	return append(all, b.run(2*hour)...)
}

// A window that is open every morning is expected as well, for as long as it returns when it
// returned before, and is over soon after.
func TestEveryMorning(t *testing.T) {
	fast := alert.Key{Kind: alert.RateOfChange, Priority: alert.Warning, Zone: "room"}
	soon := alert.Key{Kind: alert.DriftDown, Priority: alert.Critical, Zone: "room"}
	for name, c := range map[string]struct {
		open, returns, stays time.Duration
		keys                 []alert.Key
		told                 bool
		later                time.Duration
	}{
		"as before":               {40 * time.Minute, 20 * time.Minute, 0, []alert.Key{cold}, false, 0},
		"an alarm of that":        {40 * time.Minute, 20 * time.Minute, 0, []alert.Key{cold, soon}, false, 0},
		"8 minutes longer":        {48 * time.Minute, 20 * time.Minute, 0, []alert.Key{cold}, false, 0},
		"12 minutes longer":       {52 * time.Minute, 20 * time.Minute, 0, []alert.Key{cold}, true, 0},
		"it returns slowly":       {40 * time.Minute, 45 * time.Minute, 0, []alert.Key{cold}, false, 0},
		"it returns too slowly":   {40 * time.Minute, 55 * time.Minute, 0, []alert.Key{cold}, true, 0},
		"it falls once more":      {40 * time.Minute, 15 * time.Minute, 2 * time.Minute, []alert.Key{cold}, true, 0},
		"it falls faster than so": {40 * time.Minute, 20 * time.Minute, 0, []alert.Key{cold, fast}, true, 0},
		"half an hour later":      {40 * time.Minute, 20 * time.Minute, 0, []alert.Key{cold}, false, 30 * time.Minute},
		"half an hour earlier":    {40 * time.Minute, 20 * time.Minute, 0, []alert.Key{cold}, false, -30 * time.Minute},
		"50 minutes later":        {40 * time.Minute, 20 * time.Minute, 0, []alert.Key{cold}, true, 50 * time.Minute},
		"50 minutes earlier":      {40 * time.Minute, 20 * time.Minute, 0, []alert.Key{cold}, true, -50 * time.Minute},
	} {
		b := newBench(t, cold, unsafe, soon, fast)
		for n := range 3 {
			b.want("a morning", b.window(time.Duration(n)*day, 40*time.Minute, 20*time.Minute, 0, cold), episode.Began, episode.Over)
		}
		if got := b.told[len(b.told)-2].Days; got != 3 {
			t.Errorf("the third morning is told as the %d. day", got)
		}
		if got := b.window(3*day+c.later, c.open, c.returns, c.stays, c.keys...); len(got) > 0 != c.told {
			t.Errorf("%s: told %v", name, got)
		}
	}
}

// A short episode is expected for half an hour longer, one that lasts for hours for two hours.
func TestHowMuchLongerAWindowIsOpen(t *testing.T) {
	for returns, told := range map[time.Duration]bool{70 * time.Minute: true, 90 * time.Minute: false} {
		b := newBench(t, cold, unsafe)
		for n := range 3 {
			b.window(time.Duration(n)*day, 40*time.Minute, returns, 0, cold)
		}
		if got := b.window(3*day, 40*time.Minute, returns+40*time.Minute, 0, cold); len(got) > 0 != told {
			t.Errorf("%v, and 40 min more: told %v", 40*time.Minute+returns, got)
		}
	}
}

// Two windows that are open one after the other, the second for colder air, are kept apart.
func TestTwoWindowsOfAMorning(t *testing.T) {
	b := newBench(t, cold, unsafe)
	var last []episode.Stage
	for n := range 6 {
		at := time.Duration(n) * day
		last = b.night(at, 30*time.Minute, 19.8, cold)
		b.skip(at + 160*time.Minute)
		b.value(19, false)
		last = append(last, b.run(30*time.Minute, cold)...)
		b.value(23, true)
		last = append(last, b.run(2*hour)...)
	}
	b.want("the sixth morning", last)
}

// Where the safe limit seems near for long, as in a cold night, it is told each time.
func TestTheSafeLimitIsNearForLong(t *testing.T) {
	for name, c := range map[string]struct {
		open, returns time.Duration
		told          bool
	}{
		"soon over":       {55 * time.Minute, 60 * time.Minute, false},
		"it turns late":   {70 * time.Minute, 20 * time.Minute, true},
		"it is over late": {40 * time.Minute, 3 * hour, false},
	} {
		b := newBench(t, cold, unsafe)
		var last []episode.Stage
		for n := range 4 {
			last = b.window(time.Duration(n)*day, c.open, c.returns, 0, cold)
		}
		if len(last) > 0 != c.told || c.told && b.told[len(b.told)-2].Unlike != episode.UnlikeAlarm {
			t.Errorf("%s: told %v", name, last)
		}
	}
}

// A night of ten hours is expected as well.
func TestLongNights(t *testing.T) {
	b := newBench(t, cold)
	var told int
	for n := range 4 {
		told = len(b.night(time.Duration(n)*day, 10*hour, 19.6, cold))
	}
	if told != 0 {
		t.Errorf("the fourth is told %d times", told)
	}
}

// The warm side goes the other way, and the humidity by twentieths.
func TestEveryDayOnOtherSides(t *testing.T) {
	for name, c := range map[string]struct {
		key                  alert.Key
		usual, little, worse float64
	}{
		"warm": {warm, 27, 27.45, 27.55},
		"dry":  {dry, 0.4, 0.36, 0.34},
	} {
		for _, worse := range []bool{false, true} {
			b := newBench(t, c.key)
			for _, side := range []alert.Side{alert.TooDry, alert.TooDamp} {
				b.side[side] = b.side[alert.TooCold]
			}
			var last []episode.Stage
			for n := range 4 {
				v := c.usual
				if n == 3 {
					v = map[bool]float64{true: c.worse, false: c.little}[worse]
				}
				b.skip(time.Duration(n) * day)
				b.side[c.key.Kind.Side()] = episode.Situation{Value: v}
				last = b.run(2*hour, c.key)
				b.side[c.key.Kind.Side()] = episode.Situation{Value: (c.usual + 23) / 2, Inside: true, Back: true}
				last = append(last, b.run(2*hour)...)
			}
			if got := len(last) > 0; got != worse {
				t.Errorf("%s, worse %t: told %v", name, worse, last)
			}
		}
	}
}

// The record of a version before this one says nothing of other days. What no version writes, and
// what is ahead of the clock, is forgotten.
func TestResumeDays(t *testing.T) {
	var r episode.Record
	if err := json.Unmarshal([]byte(`{"sides":[{},{}],"rose":[false,false]}`), &r); err != nil || !r.IsIdle() {
		t.Errorf("it is %+v, %v", r, err)
	}
	for name, text := range map[string]string{
		"days":   `{"days":-1}`,
		"unlike": `{"days":5,"unlike":3}`,
		"hour":   `{"days":5,"last":"2026-04-01T20:00:00Z","hour":"2026-04-02T20:00:00Z"}`,
		"ahead":  `{"days":5,"last":"2026-05-01T20:00:00Z","hour":"2026-04-01T20:00:00Z"}`,
	} {
		if err := json.Unmarshal([]byte(`{"daily":[[`+text+`],[]]}`), &r); err != nil {
			t.Fatal(err)
		}
		if r = r.Resume(start); r.Daily != (episode.Record{}).Daily {
			t.Errorf("%s: it is %+v", name, r.Daily[0][0])
		}
	}
	b := threeNights(t)
	b.record = b.record.Resume(b.now)
	b.want("the fourth night, after a restart", b.night(3*day, 4*hour, 19.6, cold))
}
