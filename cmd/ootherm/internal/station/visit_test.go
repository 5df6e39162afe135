package station_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// stored is what the journal holds of the alarms that are not in their normal
// state.
func (b *bench) stored() map[string]alert.Alarm {
	b.t.Helper()
	all, _, err := b.options.Journal.Load(b.t.Context())
	if err != nil {
		b.t.Fatal(err)
	}
	got := map[string]alert.Alarm{}
	for _, a := range all {
		if a.State != alert.Normal {
			got[a.Key.String()] = a
		}
	}
	return got
}

// A command that opens the files of a station that is off for hours, and takes
// its time, neither tells of that nor writes it down; what a person asked of it
// is kept, and the station that starts afterwards tells of its own absence.
func TestACommandWithoutStationTellsNothing(t *testing.T) {
	b := newBench(t, testPlan(t))
	at := began
	for ; at.Before(began.Add(time.Hour)); at = at.Add(time.Minute) {
		b.observe(at, map[string]float64{"air": 21, "dummy": 21, "warm": 27})
	}
	const cold = "temperature-low.warning/room"
	before := fmt.Sprintf("%+v", b.stored())
	if len(b.waiting()) != 1 {
		t.Fatalf("messages %q, want one of the cold room", subjects(b.waiting()))
	}
	b.events = nil
	at = at.Add(2 * time.Hour)
	b.options.Visit = true
	b.start(at)
	for end := at.Add(20 * time.Minute); at.Before(end); at = at.Add(10 * time.Second) {
		if err := b.Tick(t.Context(), at); err != nil {
			t.Fatal(err)
		}
	}
	b.note(season)
	if got := fmt.Sprintf("%+v", b.stored()); got != before {
		t.Errorf("the command left the alarms as\n%s\nthey were\n%s", got, before)
	}
	if len(b.events) > 0 || len(b.waiting()) != 1 {
		t.Errorf("the command made %v and messages %q", b.events, subjects(b.waiting()))
	}
	if err := b.Act(t.Context(), panel.Action{Do: "acknowledge", Alarm: cold, Who: "Ann"}); err != nil {
		t.Fatal(err)
	}
	got := b.stored()
	if a := got[cold]; a.State != alert.Acknowledged || a.AckedBy != "Ann" || len(got) != 1 {
		t.Errorf("after the acknowledgement the journal has %+v", got)
	}
	b.options.Visit = false
	b.start(at)
	b.observe(at, map[string]float64{"air": 21, "dummy": 21, "warm": 27})
	if got := b.waiting(); len(got) != 2 || got[1].Subject != "◆ EGG ROOM was off for 2 h 21 min" {
		t.Errorf("messages %q, want that the station was off", subjects(got))
	}
}

// A longer quiet, and an acknowledgement of what is quiet, are kept over a restart
// though the state stays the same.
func TestWhatChangesNoStateIsKept(t *testing.T) {
	b := newBench(t, testPlan(t))
	at := began
	for ; at.Before(began.Add(20 * time.Minute)); at = at.Add(time.Minute) {
		b.observe(at, map[string]float64{"air": 21, "dummy": 21, "warm": 27})
	}
	const cold = "temperature-low.warning/room"
	for _, a := range []panel.Action{
		{Do: "shelve", Until: at.Add(time.Hour)}, {Do: "shelve", Until: at.Add(5 * time.Hour)}, {Do: "acknowledge", Who: "Ann"},
	} {
		a.Alarm = cold
		if err := b.Act(t.Context(), a); err != nil {
			t.Fatal(err)
		}
	}
	if a := b.stored()[cold]; a.State != alert.Shelved || !a.ShelvedUntil.Equal(at.Add(5*time.Hour)) || a.AckedBy != "Ann" {
		t.Errorf("the journal has %+v, want it quiet for five hours and acknowledged", a)
	}
}

// The book's copy fails for an hour: told once, with why.
func TestCopyFailingIsTold(t *testing.T) {
	b := newBench(t, testPlan(t))
	why := "open /mnt/stick: no such file or directory"
	copies := []snapshot.Copy{{By: "mail", To: "mail"}, {By: "folder", To: "/mnt/stick", Err: &why}}
	b.options.Copies = func() []snapshot.Copy { return copies }
	b.start(began)
	at := began
	for ; at.Before(began.Add(3 * time.Hour)); at = at.Add(time.Minute) {
		b.observe(at, air(at))
	}
	got := b.waiting()
	if len(got) != 1 || got[0].Subject != "◆ EGG ROOM the book is not copied" || !strings.Contains(got[0].Body, why) || got[0].At.Sub(began) != time.Hour {
		t.Fatalf("messages %+v, want one after an hour", got)
	}
	copies[1].Err = nil
	b.observe(at, air(at))
	if n := b.Now().Health.Copies; len(n) != 2 || b.stored()["copy-failing.notice"].State != alert.Returned {
		t.Errorf("published %+v, alarms %+v", n, b.stored())
	}
}

// A heartbeat that does not get out is told after three hours, also where it never did, and
// not again at a restart; one that was not tried, or got out, is not.
func TestHeartbeatFailingIsTold(t *testing.T) {
	for name, c := range map[string]struct {
		last  func(time.Time) (notice.Failure, bool)
		hours []int
	}{
		"it never got out": {func(time.Time) (notice.Failure, bool) {
			return notice.Failure{Since: began, Err: "https://watch.example.org answered 404"}, true
		}, []int{3, 27}},
		"it was not tried": {func(time.Time) (notice.Failure, bool) { return notice.Failure{}, false }, nil},
		"it got out":       {func(time.Time) (notice.Failure, bool) { return notice.Failure{}, true }, nil},
		"it fails for two hours of three": {func(at time.Time) (notice.Failure, bool) {
			if int(at.Sub(began).Hours())%3 == 2 {
				return notice.Failure{}, true
			}
			return notice.Failure{Since: at, Err: "no route"}, true
		}, nil},
	} {
		t.Run(name, func(t *testing.T) {
			p := testPlan(t)
			p.Every = 5 * time.Minute
			b := newBench(t, p)
			at := began
			b.options.ForecastEvery = 24 * time.Hour
			b.options.Heartbeat = func() (notice.Failure, bool) { return c.last(at) }
			b.start(began)
			for ; at.Before(began.Add(30 * time.Hour)); at = at.Add(p.Every) {
				b.observe(at, air(at))
				if at.Sub(began) == 10*time.Hour {
					b.start(at)
				}
			}
			var hours []int
			for _, m := range b.waiting() {
				if m.Alarm != "heartbeat-failing.notice" {
					continue
				}
				hours = append(hours, int(m.At.Sub(began).Hours()))
				if m.Priority != alert.Notice || !strings.Contains(m.Subject, "EGG ROOM heartbeat does not get out") || !strings.Contains(m.Body, "https://watch.example.org answered 404") {
					t.Errorf("told as %s %s\n%s", m.Priority, m.Subject, m.Body)
				}
			}
			if !slices.Equal(hours, c.hours) {
				t.Errorf("told after hours %v, want %v", hours, c.hours)
			}
		})
	}
}
