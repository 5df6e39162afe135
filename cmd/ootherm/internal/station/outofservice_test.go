package station_test

import (
	"bytes"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// offs are the messages that remind of what is switched off.
func (b *bench) offs() (all []alert.Message) {
	for _, m := range b.waiting() {
		if strings.HasPrefix(m.Alarm, "switched-off.") {
			all = append(all, m)
		}
	}
	return all
}

func (b *bench) act(a panel.Action) {
	b.t.Helper()
	if err := b.Act(b.t.Context(), a); err != nil {
		b.t.Fatal(err)
	}
}

// A zone switched off for work and forgotten: it is told after half a day, then daily
// while eggs wait in it and weekly where none do, over restarts too; and its end, which
// a person made, leaves nothing to see to.
func TestAZoneSwitchedOffIsNotForgotten(t *testing.T) {
	p := testPlan(t)
	p.Every = 5 * time.Minute
	b := newBench(t, p)
	b.windowsDaily()
	b.note(season)
	at := began
	run := func(until time.Duration) {
		for ; at.Before(began.Add(until)); at = at.Add(p.Every) {
			b.observe(at, air(at))
			if at.Sub(began)%(31*time.Hour) == 0 {
				b.start(at)
			}
		}
	}
	run(time.Hour)
	b.act(panel.Action{Do: "out-of-service", Zone: "room"})
	b.act(panel.Action{Do: "out-of-service", Zone: "incubator"})
	run(12*time.Hour + 50*time.Minute)
	if got := b.offs(); len(got) != 0 {
		t.Fatalf("told %v within half a day", subjects(got))
	}
	run(15 * 24 * time.Hour)
	var hours []int
	incubator := 0
	for _, m := range b.offs() {
		if m.Alarm != "switched-off.notice/room" {
			incubator++
			if !strings.Contains(m.Body, "No eggs here by the book.") {
				t.Errorf("the incubator's says\n%s", m.Body)
			}
			continue
		}
		hours = append(hours, int(m.At.Sub(began.Add(-5*time.Minute)).Hours()))
		if m.Priority != alert.Notice {
			t.Errorf("priority %s", m.Priority)
		}
		for _, part := range []string{"nobody is called about room.", "Eggs here: 1 box, 3 eggs.", "First: When the work is done, press", "Next message in 1 d"} {
			if !strings.Contains(m.Body, part) {
				t.Errorf("it lacks %q:\n%s", part, m.Body)
			}
		}
	}
	want := []int{13}
	for d := 1; 13+24*d < 15*24; d++ {
		want = append(want, 13+24*d)
	}
	if !slices.Equal(hours, want) {
		t.Errorf("the room was told after hours %v, want %v", hours, want)
	}
	if incubator < 2 || incubator > 3 {
		t.Errorf("the incubator without eggs was told %d times in two weeks, want once a week", incubator)
	}
	if s := b.offs()[0].Subject; !strings.Contains(s, "ROOM switched off for work: 12 h") && !strings.Contains(s, "INCUBATOR switched off for work: 12 h") {
		t.Errorf("subject %q", s)
	}
	b.act(panel.Action{Do: "in-service", Zone: "room"})
	b.act(panel.Action{Do: "in-service", Alarm: "switched-off.notice/incubator"}) // as its message's page offers
	n := len(b.waiting())
	run(15*24*time.Hour + time.Hour)
	if got := b.Now().Alarms; len(got) != 0 {
		t.Errorf("after both were switched on there is %+v", got)
	}
	if got := b.waiting(); len(got) != n {
		t.Errorf("it was told that a person switched them on: %v", subjects(got[n:]))
	}
}

// One alarm switched off alone is told by its name; the reminder itself cannot be
// switched off.
func TestOneAlarmSwitchedOffIsNotForgotten(t *testing.T) {
	p := testPlan(t)
	p.Every = 5 * time.Minute
	b := newBench(t, p)
	at := began
	run := func(d time.Duration) {
		for end := at.Add(d); at.Before(end); at = at.Add(p.Every) {
			b.observe(at, air(at))
		}
	}
	run(time.Hour)
	b.act(panel.Action{Do: "out-of-service", Alarm: "probe-silent.warning/room/probe:dummy"})
	b.act(panel.Action{Do: "out-of-service", Alarm: "storage-failing.critical"})
	run(14 * time.Hour)
	got := b.offs()
	if len(got) != 2 {
		t.Fatalf("told %v, want the room's and the station's", subjects(got))
	}
	for _, m := range got {
		if !strings.Contains(m.Body, "Since 2 April 19:55 nobody is called about room dummy probe silent.") && !strings.Contains(m.Body, "Since 2 April 19:55 nobody is called about egg room readings not saved.") {
			t.Errorf("it names nothing:\n%s", m.Body)
		}
		if !strings.Contains(m.Subject, "ROOM partly off for work: 12 h") {
			t.Errorf("subject %q", m.Subject)
		}
	}
	var refused *usererr.Error
	if err := b.Act(t.Context(), panel.Action{Do: "out-of-service", Alarm: "switched-off.notice/room"}); !errors.As(err, &refused) {
		t.Errorf("the reminder could be switched off: %v", err)
	}
}

// The line of a day does not say that all is well while a zone or an alarm is switched
// off; and the alarms' list says since when.
func TestAllWellNamesWhatIsSwitchedOff(t *testing.T) {
	for _, c := range []struct {
		a             panel.Action
		subject, body string
	}{
		{panel.Action{Do: "out-of-service", Zone: "room"}, "◆ EGG ROOM switched off: room", "Since 2 April 20:00 nobody is called about room."},
		{panel.Action{Do: "out-of-service", Alarm: "temperature-low.warning/room"}, "◆ EGG ROOM partly off: room", "Since 2 April 20:00 nobody is called about room too cold."},
		{panel.Action{Do: "out-of-service", Alarm: "storage-failing.critical"}, "◆ EGG ROOM partly off: the station", "Since 2 April 20:00 nobody is called about egg room readings not saved."},
	} {
		p := testPlan(t)
		eight := 8 * time.Hour
		p.Every = 5 * time.Minute
		p.Senders = []plan.Sender{{Name: "mail", AllWell: &eight}}
		b := newBench(t, p)
		at := began
		for ; at.Before(began.Add(14 * time.Hour)); at = at.Add(p.Every) {
			b.observe(at, air(at))
			if at.Sub(began) == time.Hour {
				b.act(c.a)
			}
		}
		for _, m := range b.waiting() {
			if strings.HasPrefix(m.Alarm, "all-well.") && (m.Subject != c.subject || !strings.Contains(m.Body, c.body)) {
				t.Errorf("%+v: the line of the day is\n%s\nwant %s and %s", c.a, m.Body, c.subject, c.body)
			}
		}
		var list bytes.Buffer
		if err := client.DescribeAlarms(&list, b.Now(), words.Reader{Place: time.UTC}); err != nil || strings.Count(list.String(), "since 2 April 20:00") != strings.Count(list.String(), "switched off") {
			t.Errorf("%+v: the list (%v) is\n%s", c.a, err, list.String())
		}
	}
}

// A band that is not in force for a while, as by night, does not switch its alarm on
// again when it is back, nor does a restart meanwhile; a person does.
func TestSwitchedOffStaysOffOverABandsChange(t *testing.T) {
	for name, c := range map[string]struct {
		restart, on bool
		want        int
	}{"left off": {}, "and restarted": {restart: true}, "switched on meanwhile": {on: true, want: 1}, "and that after a restart": {true, true, 1}} {
		t.Run(name, func(t *testing.T) {
			b := newBench(t, nightly(t)) // no low end from 20:00 to 22:00
			b.observe(began, air(began))
			b.act(panel.Action{Do: "out-of-service", Zone: "room"})
			told := 0
			for i := range 6 * 60 { // the old band holds for two hours
				at := began.Add(time.Duration(i) * time.Minute)
				b.observe(at, map[string]float64{"air": 21.5, "dummy": 21.5, "warm": 27})
				if i == 80 && c.restart {
					b.start(at)
				}
				if i == 100 && c.on {
					b.act(panel.Action{Do: "in-service", Zone: "room"})
				}
			}
			for _, m := range b.waiting() {
				if strings.HasPrefix(m.Alarm, "temperature-low.") {
					told++
				}
			}
			if told != c.want {
				t.Errorf("told %d times, want %d: %v", told, c.want, subjects(b.waiting()))
			}
		})
	}
}

// A zone that is switched off with eggs in it still watches its safe limits: past one of them
// for its on-delay a critical message says what it is there now, again each hour, and the page
// shows it first. Without eggs, or within safe, only the reminder comes, with the value.
func TestSwitchedOffZoneWithEggsWatchesSafe(t *testing.T) {
	const off = 30 * time.Minute // after the start
	for name, c := range map[string]struct {
		eggs    bool
		perHour float64 // from when it is off
		only    bool    // the safe limit alone is switched off
		restart bool
		subject string // of the first critical message; empty: none
	}{
		"the heater dies":                    {eggs: true, perHour: -2, subject: "▼ CRITICAL ROOM 67.8 °F, too cold, alarm off since 19:29"},
		"the heater dies, and a restart":     {eggs: true, perHour: -2, restart: true, subject: "▼ CRITICAL ROOM 67.8 °F, too cold, alarm off since 19:29"},
		"the heater sticks":                  {eggs: true, perHour: 2, subject: "▲ CRITICAL ROOM 81.2 °F, too warm, alarm off since 19:29"},
		"only its safe limit is off":         {eggs: true, perHour: -2, only: true, subject: "▼ CRITICAL ROOM 67.8 °F, too cold, alarm off since 19:29"},
		"the heater dies, without eggs":      {perHour: -2},
		"it stays within safe, and eggs are": {eggs: true, perHour: -0.1},
	} {
		t.Run(name, func(t *testing.T) {
			p := testPlan(t)
			p.Zones[0].Safe = &plan.Band{Low: ptr(20.2), High: ptr(27), Deadband: 0.28, OnDelay: 10 * time.Minute, OffDelay: 5 * time.Minute}
			b := newBench(t, p)
			b.windowsDaily()
			if c.eggs {
				b.note(season)
			}
			celsius := 23.3
			passed := time.Time{} // when safe is first passed
			at := began
			step := func() {
				if celsius <= 20.2 || celsius >= 27 {
					if passed.IsZero() {
						passed = at
					}
				}
				b.observe(at, map[string]float64{"air": celsius, "dummy": celsius + 0.2, "warm": 27})
				at = at.Add(time.Minute)
			}
			for at.Before(began.Add(off)) {
				step()
			}
			if c.only {
				b.act(panel.Action{Do: "out-of-service", Alarm: "temperature-low.critical/room"})
			} else {
				b.act(panel.Action{Do: "out-of-service", Zone: "room"})
			}
			for at.Before(began.Add(5 * time.Hour)) {
				celsius = min(max(celsius+c.perHour/60, 18), 29)
				if c.restart && at.Equal(began.Add(150*time.Minute)) {
					b.start(at)
				}
				step()
			}
			var critical []alert.Message
			for _, m := range b.waiting() {
				if m.Priority == alert.Critical && strings.HasPrefix(m.Alarm, "switched-off.") {
					critical = append(critical, m)
				}
			}
			if c.subject == "" {
				if len(critical) > 0 {
					t.Fatalf("told %v", subjects(critical))
				}
				return
			}
			if len(critical) < 3 || critical[0].Subject != c.subject || !critical[0].At.Equal(passed.Add(10*time.Minute)) {
				t.Fatalf("safe was passed at %v; told %v, want %s first, ten minutes after, then each hour", passed, critical, c.subject)
			}
			for _, part := range []string{"Critical: go now.", "nobody is called about", " there now, too ", "; the safe limit is", "Look now: ", "Eggs here: 1 box, 3 eggs.", "First: When the work is done, press", "Next message in 1 h if it lasts."} {
				if !strings.Contains(critical[0].Body, part) {
					t.Errorf("it lacks %q:\n%s", part, critical[0].Body)
				}
			}
			if got := critical[1].At.Sub(critical[0].At); got != time.Hour {
				t.Errorf("told again after %v, want 1 h", got)
			}
			shown := ""
			for _, a := range b.Now().Alarms {
				if a.Alarm == "switched-off" && a.Priority == "critical" && a.Detail != nil {
					shown = *a.Detail
				}
			}
			if !strings.Contains(shown, ", alarm off since 19:29") {
				t.Errorf("the page says %q", shown)
			}
			n := len(b.waiting())
			if !c.only { // the person comes back, and the zone's own alarm calls
				b.act(panel.Action{Do: "in-service", Alarm: "switched-off.critical/room"})
				step()
				for _, m := range b.waiting()[n:] {
					if strings.HasPrefix(m.Alarm, "switched-off.") {
						t.Errorf("told of what the person did: %s", m.Subject)
					}
				}
				return
			}
			for range 30 {
				celsius = 23.3
				step()
			}
			var last alert.Message
			for _, m := range b.waiting()[n:] {
				if strings.HasPrefix(m.Alarm, "switched-off.") {
					last = m
				}
			}
			if !last.Over || !strings.Contains(last.Subject, "safe again") || !strings.Contains(last.Subject, "alarm still off") || !strings.Contains(last.Body, "It is 73.9 °F there now.") {
				t.Errorf("back within safe it says %s\n%s", last.Subject, last.Body)
			}
		})
	}
}
