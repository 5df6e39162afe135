package station_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// waiting are the messages that nobody delivers here, the oldest first.
func (b *bench) waiting() []alert.Message {
	b.t.Helper()
	all, err := b.options.Journal.Waiting(b.t.Context())
	if err != nil {
		b.t.Fatal(err)
	}
	return all
}

func subjects(all []alert.Message) (s []string) {
	for _, m := range all {
		s = append(s, m.Subject)
	}
	return s
}

// raised are the times an alarm of a kind was raised.
func (b *bench) raised(kind string) (at []time.Time) {
	for _, e := range b.events {
		if e.Alarm == kind && e.To == "active" {
			at = append(at, e.At)
		}
	}
	return at
}

// eight is a plan of eight probes on one bus, in one zone.
func eight(t *testing.T) plan.Plan {
	p := testPlan(t)
	p.Probes, p.Zones = nil, []plan.Zone{{Name: "room", Kind: "room"}}
	for i := range 8 {
		name := fmt.Sprintf("p%d", i)
		p.Probes = append(p.Probes, plan.Probe{Name: name, Bus: "/dev/i2c-1", SilentAfter: 5 * time.Minute})
		p.Zones[0].Probes = append(p.Zones[0].Probes, name)
	}
	return p
}

func all(probes int, c float64) map[string]float64 {
	m := map[string]float64{}
	for i := range probes {
		m[fmt.Sprintf("p%d", i)] = c
	}
	return m
}

// A bus takes its eight probes with it: one message, and one when it is back. Of
// seven that stay silent when one comes back there is one more, for all.
func TestOneMessageForABusOfEight(t *testing.T) {
	b := newBench(t, eight(t))
	at := began
	run := func(d time.Duration, probes int) {
		for end := at.Add(d); at.Before(end); at = at.Add(time.Minute) {
			if probes > 0 {
				b.observe(at, all(probes, 23.3))
			}
			if err := b.Tick(t.Context(), at); err != nil {
				t.Fatal(err)
			}
		}
	}
	run(10*time.Minute, 8)
	run(30*time.Minute, 0)
	if got, want := subjects(b.waiting()), []string{"○ CRITICAL ROOM all 8 probes silent"}; !slices.Equal(got, want) {
		t.Fatalf("messages %q, want %q", got, want)
	}
	for i := range 8 {
		if body := b.waiting()[0].Body; !strings.Contains(body, fmt.Sprintf("p%d", i)) {
			t.Errorf("the message does not name p%d:\n%s", i, body)
		}
	}
	run(40*time.Minute, 8)
	if got := b.waiting(); len(got) != 2 || !got[1].Over {
		t.Fatalf("messages %q, want one more that tells of the end", subjects(got))
	}
	run(30*time.Minute, 0)
	run(40*time.Minute, 1)
	got := subjects(b.waiting())
	if len(got) != 5 || !strings.Contains(got[4], "P1 probe silent") && !strings.Contains(got[3], ", and 6 more") && !strings.Contains(got[4], ", and 6 more") {
		t.Fatalf("messages %q, want the bus again, its end, and the seven that stay silent in one", got)
	}
}

// A thermostat's cycle of 1 K in 20 minutes calls nothing, learned or not; a room
// that falls is told well before it leaves its band, after a restart too.
func TestDriftAndNoCycle(t *testing.T) {
	b := newBench(t, testPlan(t))
	at := began
	cycle := func(at time.Time) float64 {
		return 23.3 + 0.5*math.Sin(2*math.Pi*at.Sub(began).Minutes()/20) + 0.2*math.Sin(2*math.Pi*at.Sub(began).Hours()/24)
	}
	step := func(fall float64) {
		c := cycle(at) - fall
		b.observe(at, map[string]float64{"air": c, "dummy": c + 0.1, "warm": 27})
		at = at.Add(time.Minute)
	}
	for at.Before(began.Add(8 * 24 * time.Hour)) {
		step(0)
	}
	if len(b.events) != 0 {
		t.Fatalf("a thermostat's cycle raised %+v", b.events)
	}
	b.start(at) // what was learned is learned again from the history
	failed := at
	for at.Before(failed.Add(6 * time.Hour)) {
		step(5 * (1 - math.Exp(-at.Sub(failed).Hours()/4)))
	}
	drift, band := b.raised("drift-down"), b.raised("temperature-low")
	if len(drift) != 1 || len(band) == 0 || band[0].Sub(drift[0]) < 15*time.Minute {
		t.Fatalf("drift told at %v, the band's alarm at %v: want the drift once, a quarter of an hour before", drift, band)
	}
	for _, x := range b.Now().Alarms {
		if x.Alarm == "drift-down" && x.State != "suppressed" {
			t.Errorf("under the band's alarm the drift is %s, want suppressed", x.State)
		}
	}
	for _, m := range b.waiting() {
		if m.Over {
			t.Errorf("%q tells of an end while the room is cold", m.Subject)
		}
	}
}

// A room that was too cold and warms up to where it always is is not told to get too
// warm, with one day of it known.
func TestWhatIsTooColdDoesNotGetTooWarm(t *testing.T) {
	b := newBench(t, testPlan(t))
	for i := range 48 * 60 {
		at := began.Add(time.Duration(i) * time.Minute)
		c := 23.3 + 0.3*math.Sin(2*math.Pi*at.Sub(began).Hours()/24)
		if h := at.Sub(began).Hours() - 34; h > 0 {
			fallen := 7 * (1 - math.Exp(-min(h, 6)/3))
			c -= fallen * math.Exp(-max(0, h-6)/2)
		}
		b.observe(at, map[string]float64{"air": c, "dummy": c + 0.1, "warm": 27})
		if n := len(b.raised("drift-up")); n > 0 {
			t.Fatalf("told to get too warm %v after the start, at %.1f C", at.Sub(began), c)
		}
	}
}

// The end of an excursion says how long, how far, and what it did to the hatch: what the
// incident of the same span says, also over a restart, and not what the climate to come does
// to the windows.
func TestRecoveryTellsOfTheHatch(t *testing.T) {
	for _, restart := range []bool{false, true} {
		b, over := recovery(t, restart)
		_, after, _ := strings.Cut(over.Body, "; hatch ")
		var least, most float64
		if n, _ := fmt.Sscanf(after, "%f to %f d earlier", &least, &most); n == 1 {
			most = least
		} else if n == 0 {
			t.Fatalf("restarted %t: no days in\n%s", restart, over.Body)
		}
		var began time.Time
		for _, e := range b.events {
			if e.Alarm == "temperature-high" && e.To == "active" {
				began = e.At.Add(-10 * time.Minute) // its on-delay
			}
		}
		n, err := b.LookBack(t.Context(), began, over.At, "room")
		if err != nil || len(n.Clutches) == 0 {
			t.Fatal(err, n.Clutches)
		}
		for _, c := range n.Clutches {
			if c.Moved == nil || -*c.Moved < least-0.051 || -*c.Moved > most+0.051 {
				t.Errorf("restarted %t: the message says %.1f to %.1f d earlier, the incident %v d for %s", restart, least, most, *c.Moved, c.Clutch)
			}
		}
	}
}

func recovery(t *testing.T, restart bool) (*bench, *alert.Message) {
	t.Helper()
	p := testPlan(t)
	p.Every = 5 * time.Minute
	b := newBench(t, p)
	b.windowsDaily()
	b.note(season)
	at := began
	run := func(until time.Duration, c float64) {
		for ; at.Before(began.Add(until)); at = at.Add(p.Every) {
			b.observe(at, map[string]float64{"air": c, "dummy": c, "warm": 27})
		}
	}
	run(20*24*time.Hour, 23.3)
	run(20*24*time.Hour+30*time.Hour, 26)
	if restart {
		b.start(at)
	}
	run(20*24*time.Hour+40*time.Hour, 26)
	run(23*24*time.Hour, 23.3)
	var over *alert.Message
	for _, m := range b.waiting() {
		if m.Over && strings.HasPrefix(m.Alarm, "temperature-high.warning") {
			over = &m
		}
	}
	if over == nil {
		t.Fatalf("no message tells of the end: %q", subjects(b.waiting()))
	}
	for _, part := range []string{"● ROOM back in order 11:", "for 1 d 16 h, peak 78.8 °F; hatch ", " d earlier.", "Now 73.9 °F."} {
		if !strings.Contains(over.Body, part) {
			t.Errorf("it lacks %q:\n%s", part, over.Body)
		}
	}
	return b, over
}

// The WHO definitions: dips to the limit of half an hour each stay silent as single
// events of an hour, and three and a half hours of them are three in all. A restart
// forgets neither.
func TestSingleAndCumulative(t *testing.T) {
	p := testPlan(t)
	z := &p.Zones[1]
	z.Single = &plan.Dose{Low: ptr(-0.5), High: ptr(45), For: time.Hour}
	z.Total = &plan.Dose{Low: ptr(-0.5), For: 3 * time.Hour}
	b := newBench(t, p)
	at := began
	run := func(d time.Duration, c float64) {
		for end := at.Add(d); at.Before(end); at = at.Add(time.Minute) {
			b.observe(at, map[string]float64{"air": 23, "dummy": 23, "warm": c})
		}
	}
	for range 5 {
		run(30*time.Minute, -0.5)
		run(time.Hour, 5)
	}
	if n := len(b.raised("single-event")) + len(b.raised("cumulative")); n != 0 {
		t.Fatalf("%d alarms after two and a half hours in all", n)
	}
	b.start(at)
	run(30*time.Minute, -0.5)
	run(time.Hour, 5)
	run(2*time.Minute, -0.5)
	if n := len(b.raised("single-event")); n != 0 {
		t.Errorf("dips of half an hour were %d single events of an hour", n)
	}
	if n := len(b.raised("cumulative")); n != 1 {
		t.Errorf("three hours in all, over a restart, were told %d times", n)
	}
	run(62*time.Minute, -0.6)
	if n := len(b.raised("single-event")); n != 1 {
		t.Errorf("an hour at a stretch was told %d times", n)
	}
}

// Off for two hours: that is told once, with what is assumed meanwhile. A station
// that restarts at once says nothing.
func TestRestartIsTold(t *testing.T) {
	b := newBench(t, testPlan(t))
	at := began
	for ; at.Before(began.Add(time.Hour)); at = at.Add(time.Minute) {
		b.observe(at, air(at))
	}
	b.start(at)
	b.observe(at, air(at))
	if got := b.waiting(); len(got) != 0 {
		t.Fatalf("a restart at once was told: %q", subjects(got))
	}
	at = at.Add(2 * time.Hour)
	b.start(at)
	b.observe(at, air(at))
	got := b.waiting()
	if len(got) != 1 || got[0].Subject != "◆ EGG ROOM was off for 2 h" || !strings.Contains(got[0].Body, "from 20:00 to 22:00") || !strings.Contains(got[0].Body, "readings on either side") {
		t.Fatalf("messages %q, want one that says off for two hours, and what is assumed:\n%+v", subjects(got), got)
	}
}

// A sender that fails is told by the others, and not to itself.
func TestSenderFailing(t *testing.T) {
	p := testPlan(t)
	p.Senders = []plan.Sender{{Name: "mail"}, {Name: "push"}}
	b := newBench(t, p)
	troubles := map[string]notice.Failure{"mail": {Since: began, Err: "the server does not answer"}}
	b.options.Troubles = func() map[string]notice.Failure { return troubles }
	b.start(began)
	for at := began; at.Before(began.Add(20 * time.Minute)); at = at.Add(time.Minute) {
		b.observe(at, air(at))
	}
	got := b.waiting()
	if len(got) != 1 || got[0].Sender != "push" || !strings.Contains(got[0].Subject, "MAIL messages do not get out") || !strings.Contains(got[0].Body, "the server does not answer") {
		t.Fatalf("messages %+v, want one, to push", got)
	}
}

// A full card, a time of day that is not known, probes far apart and a fast change
// are each told once.
func TestConditions(t *testing.T) {
	p := testPlan(t)
	p.Zones[0].Apart, p.Zones[0].Rate = 3, 5
	b := newBench(t, p)
	free := uint64(80 << 20)
	b.options.Free = func() (uint64, error) { return free, nil }
	b.options.Boot.Synchronised = false
	b.start(began)
	for at := began; at.Before(began.Add(3 * time.Hour)); at = at.Add(time.Minute) {
		since := at.Sub(began)
		c := 23.3 - 7*max(0, min(since.Hours()-1, 1))
		b.observe(at, map[string]float64{"air": c, "dummy": c + 3.5, "warm": 27})
	}
	for kind, want := range map[string]int{"storage-failing": 1, "clock-unverified": 1, "probes-disagree": 1, "rate-of-change": 1} {
		if n := len(b.raised(kind)); n != want {
			t.Errorf("%s was raised %d times, want %d", kind, n, want)
		}
	}
	text := strings.Join(subjects(b.waiting()), "\n")
	for _, part := range []string{"card nearly full: 80 MB left", "time of day not known", "probes disagree"} {
		if !strings.Contains(text, part) {
			t.Errorf("no message says %q:\n%s", part, text)
		}
	}
	if !slices.ContainsFunc(b.waiting(), func(m alert.Message) bool { return strings.Contains(m.Body, "Last ten minutes: falling 12.") }) {
		t.Error("no message says how fast it falls")
	}
	free = 90 << 30
}

// What left the configuration ends at the next start, and is forgotten in time; a
// zone that comes back counts its messages on.
func TestGoneZonesAreForgotten(t *testing.T) {
	b := newBench(t, testPlan(t))
	at := began
	cold := func(d time.Duration) {
		for end := at.Add(d); at.Before(end); at = at.Add(time.Minute) {
			b.observe(at, map[string]float64{"air": 21, "dummy": 21, "warm": 27})
		}
	}
	cold(20 * time.Minute)
	without := testPlan(t)
	without.Zones = without.Zones[1:]
	stored := func() (room []alert.Alarm) {
		all, _, err := b.options.Journal.Load(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range all {
			if x.Key.Zone == "room" {
				room = append(room, x)
			}
		}
		return room
	}
	with := b.options.Plan
	b.options.Plan = without
	b.start(at)
	if got := stored(); len(got) == 0 || slices.ContainsFunc(got, func(a alert.Alarm) bool { return a.State != alert.Normal }) {
		t.Fatalf("of a zone that is gone the journal holds %+v, want it ended", got)
	}
	b.options.Plan = with
	b.start(at)
	n := len(b.waiting())
	cold(20 * time.Minute) // a message of the same alarm must not have an old one's identity
	if len(b.waiting()) <= n {
		t.Errorf("the zone came back, cold, and nothing was told")
	}
	b.options.Plan = without
	b.start(at)
	at = at.Add(61 * 24 * time.Hour)
	b.start(at)
	if got := stored(); len(got) != 0 {
		t.Errorf("two months later the journal still holds %+v", got)
	}
}

// A window that opens is a notice, and a clutch that is late another; both name the
// clutch, and neither is told twice.
func TestWindowsAreTold(t *testing.T) {
	p := testPlan(t)
	p.Every = time.Hour
	b := newBench(t, p)
	b.windowsDaily()
	b.note(season)
	for at := began; at.Before(began.Add(150 * 24 * time.Hour)); at = at.Add(time.Hour) {
		b.observe(at, map[string]float64{"air": 23.3, "dummy": 23.3, "warm": 27})
	}
	var opened, late []alert.Message
	for _, m := range b.waiting() {
		switch {
		case strings.HasPrefix(m.Alarm, "window-opening.notice/box:B1"):
			opened = append(opened, m)
		case strings.HasPrefix(m.Alarm, "late.notice/box:B1"):
			late = append(late, m)
		}
	}
	if n := len(b.raised("window-opening")); n != 2 || len(opened) == 0 || len(opened) > 2 {
		t.Fatalf("the windows of two clutches opened %d times, in messages %q", n, subjects(b.waiting()))
	}
	if n := len(b.raised("late")); n != 2 || len(late) == 0 {
		t.Fatalf("two clutches were late %d times, in messages %q", n, subjects(b.waiting()))
	}
	if !late[0].At.After(opened[0].At) || !strings.Contains(opened[0].Body, "(Sorrel), 2 eggs left: ") && !strings.Contains(opened[0].Body, "(Tansy), 1 egg left: ") {
		t.Errorf("late at %v, opened at %v:\n%s", late[0].At, opened[0].At, opened[0].Body)
	}
}

// Five minutes of work in a zone: its alarms are quiet, and by themselves no more.
func TestWorkingHere(t *testing.T) {
	b := newBench(t, testPlan(t))
	b.observe(began, air(began))
	if err := b.Act(t.Context(), panel.Action{Do: "shelve", Zone: "room", Until: began.Add(5 * time.Minute)}); err != nil {
		t.Fatal(err)
	}
	states := func() (s []string) {
		for _, a := range b.Now().Alarms {
			if a.Zone != nil && *a.Zone == "room" {
				s = append(s, a.State)
			}
		}
		return s
	}
	if got := states(); len(got) < 4 || slices.ContainsFunc(got, func(s string) bool { return s != "shelved" }) {
		t.Fatalf("the zone's alarms are %q, want all of them quiet", got)
	}
	at := began
	for ; at.Before(began.Add(7 * time.Minute)); at = at.Add(time.Minute) {
		b.observe(at, air(at))
	}
	if got := states(); len(got) != 0 {
		t.Errorf("seven minutes later they are %q, want in order", got)
	}
	if got := b.waiting(); len(got) != 0 {
		t.Errorf("the work was told: %q", subjects(got))
	}
}
