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
	b.options.ForecastEvery = 24 * time.Hour
	b.start(began)
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
		for _, part := range []string{"nobody is called about room.", "Eggs here: 1 box, 3 eggs.", "First: Where the work is done, switch it on again", "Next message in 1 d"} {
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
			for i := range 5 * 60 {
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
