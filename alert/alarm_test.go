package alert_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/alert"
)

var start = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)

func sec(s int) time.Time { return start.Add(time.Duration(s) * time.Second) }

var (
	room  = alert.Key{Kind: alert.TemperatureHigh, Priority: alert.Warning, Zone: "room"}
	above = alert.Limit{High: true, At: 32, Deadband: 0.5, OnDelay: 120 * time.Second, OffDelay: 60 * time.Second}
	below = alert.Limit{At: -32, Deadband: 0.5, OnDelay: 120 * time.Second, OffDelay: 60 * time.Second}
)

// step is values from a second to another, every 30 s; NaN is a missing one.
type step struct {
	from, to int
	v        float64
}

var gone = math.NaN()

func TestDelaysAndDeadband(t *testing.T) {
	for _, c := range []struct {
		name  string
		steps []step
		want  []string
	}{
		{"just short of the on-delay", []step{{0, 90, 32}, {120, 600, 31.9}}, nil},
		{"the on-delay elapses", []step{{0, 120, 32}}, []string{"120 active"}},
		{"inside the deadband it stays", []step{{0, 120, 32}, {150, 900, 31.5}}, []string{"120 active"}},
		{"the off-delay elapses", []step{{0, 120, 32}, {150, 270, 31.5}, {300, 360, 31.4}}, []string{"120 active", "360 returned"}},
		{"the deadband sets the off-delay to nothing", []step{{0, 120, 32}, {150, 270, 31.5}, {300, 330, 31.4}, {360, 360, 31.6}}, []string{"120 active"}},
		{"and it begins again", []step{{0, 120, 32}, {150, 150, 31.4}, {180, 180, 31.6}, {210, 270, 31.4}}, []string{"120 active", "270 returned"}},
		{"back past the deadband sets the on-delay to nothing", []step{{0, 90, 32}, {120, 120, 31.4}, {150, 240, 32}, {270, 270, 32}}, []string{"270 active"}},
		{"inside the deadband the on-delay stands still", []step{{0, 60, 32}, {90, 90, 31.7}, {120, 180, 32}}, []string{"180 active"}},
		{"one touch and a long stay below is no alarm", []step{{0, 0, 32}, {30, 3600, 31.9}, {3630, 3630, 32}}, nil},
		{"a hole between two values beyond counts", []step{{0, 0, 32}, {30, 210, gone}, {240, 240, 32}}, []string{"240 active"}},
		{"nothing is raised on a missing value", []step{{0, 0, 32}, {30, 3600, gone}}, nil},
		{"a missing value does not end it", []step{{0, 120, 32}, {150, 7200, gone}}, []string{"120 active"}},
		{"nor bring its end nearer", []step{{0, 120, 32}, {150, 150, 31.4}, {180, 600, gone}, {630, 660, 31.4}, {690, 690, 31.4}}, []string{"120 active", "690 returned"}},
		{"nor stop it from ending", []step{{0, 120, 32}, {150, 150, 31}, {180, 180, gone}, {210, 270, 31}}, []string{"120 active", "270 returned"}},
	} {
		for _, side := range []struct {
			name  string
			limit alert.Limit
			sign  float64
		}{{"high", above, 1}, {"low", below, -1}} {
			t.Run(c.name+"/"+side.name, func(t *testing.T) {
				a := alert.New(room, side.limit)
				var got []string
				for _, s := range c.steps {
					for at := s.from; at <= s.to; at += 30 {
						var events []alert.Event
						a, events = a.Observe(sec(at), side.sign*s.v, !math.IsNaN(s.v))
						for _, e := range events {
							got = append(got, fmt.Sprintf("%d %s", at, e.To))
						}
					}
				}
				if fmt.Sprint(got) != fmt.Sprint(c.want) {
					t.Errorf("transitions %v, want %v", got, c.want)
				}
			})
		}
	}
}

// See that a limit given in Fahrenheit is met by the same figure from a sensor.
func TestTheSameFigureByTwoRoads(t *testing.T) {
	for f := 32; f <= 120; f++ {
		v := float64(f)
		l := alert.Limit{High: true, At: (v - 32) * 5 / 9, Deadband: 0.5 / 1.8}
		if !l.Beyond((v - 32) / 1.8) {
			t.Errorf("%d F is not beyond a limit of %d F", f, f)
		}
		if l.Back((v - 0.5 - 32) / 1.8) {
			t.Errorf("%.1f F is back past a deadband that ends there", v-0.5)
		}
	}
}

// raised is an active alarm, raised at start.
func raised(t *testing.T, l alert.Limit) alert.Alarm {
	t.Helper()
	l.OnDelay = 0
	a, events := alert.New(room, l).Observe(start, 33*sign(l), true)
	if len(events) != 1 || a.State != alert.Active {
		t.Fatalf("not raised: %v %v", a.State, events)
	}
	return a
}

func sign(l alert.Limit) float64 {
	if l.High {
		return 1
	}
	return -1
}

func TestStates(t *testing.T) {
	now := start
	type act func(a alert.Alarm) (alert.Alarm, []alert.Event)
	acts := map[string]act{
		"hot":     func(a alert.Alarm) (alert.Alarm, []alert.Event) { return a.Observe(now, 33, true) },
		"cool":    func(a alert.Alarm) (alert.Alarm, []alert.Event) { return a.Observe(now, 20, true) },
		"missing": func(a alert.Alarm) (alert.Alarm, []alert.Event) { return a.Observe(now, 20, false) },
		"ack":     func(a alert.Alarm) (alert.Alarm, []alert.Event) { return a.Acknowledge(now, "keeper") },
		"shelve": func(a alert.Alarm) (alert.Alarm, []alert.Event) {
			a, e, err := a.Shelve(now, now.Add(3*time.Minute+30*time.Second))
			if err != nil {
				t.Fatal(err)
			}
			return a, e
		},
		"unshelve":   func(a alert.Alarm) (alert.Alarm, []alert.Event) { return a.Unshelve(now) },
		"suppress":   func(a alert.Alarm) (alert.Alarm, []alert.Event) { return a.Suppress(now) },
		"unsuppress": func(a alert.Alarm) (alert.Alarm, []alert.Event) { return a.Unsuppress(now) },
		"out":        func(a alert.Alarm) (alert.Alarm, []alert.Event) { return a.OutOfService(now) },
		"in":         func(a alert.Alarm) (alert.Alarm, []alert.Event) { return a.InService(now) },
		"tick":       func(a alert.Alarm) (alert.Alarm, []alert.Event) { return a.Tick(now) },
		"resume":     func(a alert.Alarm) (alert.Alarm, []alert.Event) { return a.Resume(now, a.Limit) },
	}
	type s []string
	// Each word is an act a minute after the one before, and the state after it;
	// a * says that the act deserves a message.
	for _, c := range []s{
		{"hot active*", "ack acknowledged", "cool normal*"},
		{"hot active*", "cool returned*", "ack normal"},
		{"hot active*", "cool returned*", "hot active*"},
		{"hot active*", "ack acknowledged", "ack acknowledged", "hot acknowledged"},
		{"ack normal", "hot active*"},
		{"hot active*", "shelve shelved", "hot shelved", "tick shelved", "tick shelved", "tick active*"},
		{"hot active*", "shelve shelved", "cool shelved", "unshelve normal"},
		{"hot active*", "ack acknowledged", "shelve shelved", "unshelve acknowledged"},
		{"shelve shelved", "hot shelved", "unshelve active*"},
		{"shelve shelved", "hot shelved", "ack shelved", "unshelve acknowledged"},
		{"shelve shelved", "hot shelved", "cool shelved", "tick shelved", "tick normal"},
		{"shelve shelved", "hot shelved", "hot shelved", "hot shelved", "cool normal"},
		{"hot active*", "suppress suppressed", "suppress suppressed", "missing suppressed", "unsuppress active*", "unsuppress active"},
		{"hot active*", "suppress suppressed", "cool suppressed", "unsuppress normal"},
		{"suppress suppressed", "shelve suppressed", "unsuppress shelved", "unshelve normal"},
		{"out out-of-service", "hot out-of-service", "shelve out-of-service", "in shelved", "tick shelved", "tick shelved", "tick active*"},
		{"out out-of-service", "suppress out-of-service", "in suppressed", "unsuppress normal"},
		{"hot active*", "cool returned*", "shelve shelved", "unshelve normal"},
		{"hot active*", "resume active", "missing active", "cool returned*", "resume returned", "ack normal"},
		{"shelve shelved", "resume shelved", "resume shelved", "resume shelved", "resume normal"},
	} {
		t.Run(fmt.Sprint(c), func(t *testing.T) {
			now = start
			l := above
			l.OnDelay, l.OffDelay = 0, 0
			a := alert.New(room, l)
			for i, word := range c {
				now = now.Add(time.Minute)
				var name, want string
				if _, err := fmt.Sscan(word, &name, &want); err != nil {
					t.Fatal(err)
				}
				before := a.State
				var events []alert.Event
				a, events = acts[name](a)
				got := string(a.State)
				for _, e := range events {
					if e.Notify() {
						got += "*"
					}
					if e.From != before {
						t.Errorf("act %d, %s: an event from %s, the state was %s", i, name, e.From, before)
					}
					before = e.To
				}
				if before != a.State {
					t.Errorf("act %d, %s: the events end at %s, the state is %s", i, name, before, a.State)
				}
				if got != want {
					t.Fatalf("act %d, %s: %s, want %s", i, name, got, want)
				}
			}
		})
	}
}

func TestShelvingIsBounded(t *testing.T) {
	a := raised(t, above)
	for _, d := range []time.Duration{-time.Second, 0, alert.MaxShelve + time.Second} {
		_, _, err := a.Shelve(start, start.Add(d))
		var refused *alert.ShelveError
		if !errors.As(err, &refused) {
			t.Errorf("shelved for %v: %v", d, err)
		}
	}
	// A stored end that the clock has lost, and a clock that went back a year.
	b, _, err := a.Shelve(start, start.Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	if b, _ = b.Resume(start.AddDate(-1, 0, 0), above); b.State != alert.Active {
		t.Errorf("shelved for a year after the clock went back: %s", b.State)
	}
}

func TestCalledAgain(t *testing.T) {
	l := above
	l.ReAlarm = time.Hour
	a := raised(t, l)
	a.Key.Priority = alert.Critical
	count := func(from, to int) (n int) {
		for m := from; m <= to; m++ {
			var events []alert.Event
			a, events = a.Tick(start.Add(time.Duration(m) * time.Minute))
			for _, e := range events {
				if !e.ReAlarm || !e.Notify() || e.To != alert.Active {
					t.Errorf("minute %d: %+v is no call", m, e)
				}
				n++
			}
		}
		return n
	}
	if n := count(1, 59); n != 0 {
		t.Errorf("%d calls within the hour", n)
	}
	if n := count(60, 181); n != 3 {
		t.Errorf("%d calls in the two hours after the first, want 3", n)
	}
	a, _ = a.Acknowledge(start.Add(200*time.Minute), "keeper")
	if n := count(201, 259); n != 0 || a.State != alert.Acknowledged {
		t.Errorf("%d calls in the hour after it was acknowledged; %s", n, a.State)
	}
	if n := count(260, 260); n != 1 || a.State != alert.Active {
		t.Errorf("%d calls an hour after it was acknowledged, want 1; %s", n, a.State)
	}
	a, _ = a.OutOfService(start.Add(261 * time.Minute))
	if n := count(262, 900); n != 0 {
		t.Errorf("%d calls while out of service", n)
	}
}

// A warning that is not mended calls after 6, 12 and 24 hours, then once a day; and
// none calls while its end is on the way, unless values are missing.
func TestCalledAgainMoreSeldom(t *testing.T) {
	l := above
	l.ReAlarm = 6 * time.Hour
	a := raised(t, l)
	a.Key.Priority = alert.Warning
	var calls []int
	for h := 1; h <= 100; h++ {
		var events []alert.Event
		a, events = a.Tick(a.Since.Add(time.Duration(h) * time.Hour))
		if len(events) > 0 {
			calls = append(calls, h)
		}
	}
	if want := []int{6, 12, 24, 48, 72, 96}; !slices.Equal(calls, want) {
		t.Errorf("called after %v hours, want %v", calls, want)
	}
	at := a.Since.Add(119*time.Hour + 59*time.Minute + 30*time.Second)
	a, _ = a.Observe(at, l.At-1, true)
	if a, events := a.Observe(at.Add(40*time.Second), l.At-1, true); !a.True || len(events) != 0 {
		t.Errorf("within a minute of its end it told %+v", events)
	}
	if _, events := a.Observe(at.Add(40*time.Second), 0, false); len(events) != 1 {
		t.Errorf("nothing is known of its end any more, and it told %+v, want a call", events)
	}
}

// A critical alarm whose value stands in the deadband is called more and more seldom, and a
// warning daily. Past the limit again, each is called as always, at once where its time is over.
// What is not known is taken as past the limit.
func TestCalledAgainMoreSeldomWithinTheLimit(t *testing.T) {
	l := alert.Limit{High: true, At: 32, Deadband: 0.5, OnDelay: time.Minute, OffDelay: 5 * time.Minute}
	back := func(after float64) func(float64) (float64, bool) {
		return func(h float64) (float64, bool) { return map[bool]float64{true: 32.1, false: 31.7}[h >= after], true }
	}
	within, past := back(math.Inf(1)), back(0)
	for name, c := range map[string]struct {
		priority alert.Priority
		again    time.Duration
		value    func(hours float64) (float64, bool)
		want     []int
	}{
		"critical, in the deadband":              {alert.Critical, time.Hour, within, []int{1, 2, 4, 8, 16}},
		"critical, past the limit":               {alert.Critical, 4 * time.Hour, past, []int{4, 8, 12, 16, 20, 24}},
		"critical, past it again after 6.5 h":    {alert.Critical, 4 * time.Hour, back(6.5), []int{4, 8, 12, 16, 20, 24}},
		"critical, past it again after 20.5 h":   {alert.Critical, time.Hour, back(20.5), []int{1, 2, 4, 8, 16, 20, 21, 22, 23}},
		"critical, not known after half an hour": {alert.Critical, 8 * time.Hour, func(h float64) (float64, bool) { return 31.7, h < 0.5 }, []int{8, 16, 24}},
		"critical, every tenth not known":        {alert.Critical, time.Hour, func(h float64) (float64, bool) { return 31.7, int(h*3600)/10%10 != 0 }, []int{1, 2, 4, 8, 16}},
		"a warning, in the deadband":             {alert.Warning, 6 * time.Hour, within, []int{24}},
		"a warning, past the limit":              {alert.Warning, 6 * time.Hour, past, []int{6, 12, 24}},
		"a warning, past it again after 9.5 h":   {alert.Warning, 6 * time.Hour, back(9.5), []int{9, 19}},
	} {
		t.Run(name, func(t *testing.T) {
			l.ReAlarm = c.again
			a := raised(t, l)
			a.Key.Priority = c.priority
			raisedAt := a.Since
			var calls []int
			for s := 10; s <= 24*3600+60; s += 10 {
				v, known := c.value(float64(s) / 3600)
				var events []alert.Event
				a, events = a.Observe(raisedAt.Add(time.Duration(s)*time.Second), v, known)
				for range events {
					calls = append(calls, s/3600)
				}
			}
			if !slices.Equal(calls, c.want) {
				t.Errorf("called after %v hours, want %v", calls, c.want)
			}
		})
	}
}

func TestNoiseOnTheLimitIsOneAlarm(t *testing.T) {
	for _, on := range []time.Duration{0, 2 * time.Minute, 10 * time.Minute} {
		for seed := range uint64(20) {
			r := rand.New(rand.NewPCG(seed, 1))
			l := alert.Limit{High: true, At: 24.4, Deadband: 0.5 / 1.8, OnDelay: on, OffDelay: 5 * time.Minute}
			a, raised, all := alert.New(room, l), 0, 0
			for s := 0; s <= 86400; s += 10 {
				var events []alert.Event
				a, events = a.Observe(sec(s), l.At+0.2*r.Float64()-0.1, true)
				all += len(events)
				for _, e := range events {
					if e.To == alert.Active {
						raised++
					}
				}
			}
			if raised != 1 || all != 1 {
				t.Errorf("on-delay %v, seed %d: raised %d times, %d transitions in 24 h; want one", on, seed, raised, all)
			}
		}
	}
}

func TestRestartsDoNotPutOffTheAlarm(t *testing.T) {
	const poll = 10
	l := alert.Limit{High: true, At: 32, Deadband: 0.5, OnDelay: 10 * time.Minute, OffDelay: 5 * time.Minute}
	fresh := alert.New(room, l)
	stored, err := json.Marshal(fresh)
	if err != nil {
		t.Fatal(err)
	}
	began, active := 300, -1
	for boot := 0; boot < 2*3600; boot += 60 {
		var a alert.Alarm
		if err := json.Unmarshal(stored, &a); err != nil {
			t.Fatal(err)
		}
		a, _ = a.Resume(sec(boot), l)
		for s := boot + 5; s < boot+60; s += poll { // the first poll 5 s after the start
			v := 25.0
			if s >= began {
				v = 33
			}
			var events []alert.Event
			a, events = a.Observe(sec(s), v, true)
			if a.State == alert.Active && active < 0 {
				active = s
			}
			lasted := !a.Pending.IsZero() && sec(s).Sub(a.Pending) >= 2*poll*time.Second
			if len(events) > 0 || lasted {
				if stored, err = json.Marshal(a); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	if most := began + poll + 600 + poll; active < 0 || active > most {
		t.Errorf("true from %d s, active at %d s; at most %d", began, active, most)
	}
}

func TestResumeWithAnOldClock(t *testing.T) {
	a, _ := alert.New(room, above).Observe(start, 33, true)
	a, _ = a.Resume(start.Add(-12*time.Hour), above)
	woke := start.Add(-12 * time.Hour)
	for s := 0; s <= 150; s += 30 {
		a, _ = a.Observe(woke.Add(time.Duration(s)*time.Second), 33, true)
	}
	if a.State != alert.Active {
		t.Errorf("150 s past the limit under an old clock: %s", a.State)
	}
}

func TestAlarmAsJSON(t *testing.T) {
	a := alert.New(room, above)
	for i, v := range []float64{30, 32.5, 33, 33, 33, 33, 33, 31} {
		b, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		var back alert.Alarm
		if err := json.Unmarshal(b, &back); err != nil {
			t.Fatal(err)
		}
		again, err := json.Marshal(back)
		if err != nil {
			t.Fatal(err)
		}
		if string(b) != string(again) {
			t.Fatalf("after %d values:\n%s\n%s", i, b, again)
		}
		if i == 0 && !(math.IsNaN(back.Value) && math.IsNaN(back.Peak)) {
			t.Errorf("an alarm that saw nothing has value %v, peak %v", back.Value, back.Peak)
		}
		a, _ = back.Observe(sec(30*i), v, true)
	}
	if a.Peak != 33 || a.Value != 31 {
		t.Errorf("value %v, peak %v", a.Value, a.Peak)
	}
}
