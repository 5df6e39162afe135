package panel_test

import (
	"slices"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

// The beginning of an on-delay is written when the second poll finds it so, not at each poll;
// and its end, once the beginning was written.
func TestOnDelayInTheJournal(t *testing.T) {
	p := panel.New(nil, poll)
	p.Step(start)
	p.Want(map[alert.Key]alert.Limit{cool: {At: 20, Deadband: 0.5, OnDelay: 10 * time.Minute}}, places, "")
	for i, x := range []struct {
		v    float64
		want bool
	}{{19, false}, {19, true}, {19, false}, {21, true}, {21, false}, {19, false}, {21, false}} {
		show(p, time.Duration(i)*poll, cool, x.v)
		if got := len(p.Unwritten().Changed()) > 0; got != x.want {
			t.Errorf("poll %d: written %v, want %v", i, got, x.want)
		}
		p.Unwritten().Written()
	}
}

func TestRestartGoesOn(t *testing.T) {
	p := made()
	show(p, 0, cool, 19)
	act(t, p, panel.Action{Do: panel.Acknowledge, Alarm: cool.String(), Who: "Ann"})
	stored := p.Unwritten().Changed()
	if len(stored) != 1 {
		t.Fatalf("changed %v", changed(p))
	}
	p = made(stored...)
	check(t, p, "after a restart")
	if x, ok := p.Alarm(cool); !ok || x.State != alert.Acknowledged || x.AckedBy != "Ann" {
		t.Errorf("it is %+v", x)
	}
}

func TestVisitWritesOnlyWhatAPersonDid(t *testing.T) {
	p := made()
	show(p, 0, card, 1)
	show(p, 0, cold, 17)
	act(t, p, panel.Action{Do: panel.Acknowledge, Alarm: cold.String()})
	p.Unwritten().DropUnacted()
	if got := changed(p); !slices.Equal(got, []string{cold.String()}) || !p.Unwritten().Acted(cold) || p.Unwritten().Acted(card) {
		t.Errorf("changed %v", got)
	}
	p.Unwritten().Written()
	if p.Unwritten().Acted(cold) || len(p.Unwritten().Changed()) != 0 {
		t.Errorf("after writing: changed %v", changed(p))
	}
}

// Alarms of the journal that no limit asks for: one that stands ends, one that is old is
// forgotten, one that is out of service stays.
func TestAlarmsWithoutALimit(t *testing.T) {
	gone := func(zone string) alert.Alarm {
		x := alert.New(alert.Key{Kind: alert.TemperatureLow, Priority: alert.Warning, Zone: zone}, alert.Limit{At: 20})
		return x
	}
	stands, _ := gone("stands").Observe(start.Add(-time.Hour), 19, true)
	old := gone("old")
	old.Changed = start.Add(-61 * 24 * time.Hour)
	fresh := gone("fresh")
	fresh.Changed = start.Add(-59 * 24 * time.Hour)
	out, _ := gone("out").OutOfService(start.Add(-time.Hour))
	p := made(stands, old, fresh, out)
	p.EndUnwanted("since the configuration changed")
	if e := p.Take(); len(e) != 1 || e[0].Key != stands.Key || !e[0].Gone || p.Ended(stands.Key) == "" {
		t.Errorf("ended %+v", e)
	}
	if got := p.Forget(start.Add(-60 * 24 * time.Hour)); !slices.Equal(got, []string{old.Key.String()}) {
		t.Errorf("forgot %q", got)
	}
	if got := p.Forget(start.Add(-60 * 24 * time.Hour)); len(got) > 0 {
		t.Errorf("forgot %q twice", got)
	}
}

func TestShift(t *testing.T) {
	p := made()
	show(p, 0, cool, 19)
	p.Unwritten().Written()
	p.Shift(start, time.Hour)
	if x, _ := p.Alarm(cool); !x.Began.Equal(start.Add(time.Hour)) || !x.AckedAt.IsZero() {
		t.Errorf("it began %v, acknowledged %v", x.Began, x.AckedAt)
	}
	p.Shift(start.Add(2*time.Hour), time.Hour)
	if x, _ := p.Alarm(cool); !x.Began.Equal(start.Add(time.Hour)) {
		t.Errorf("what was before the boot moved to %v", x.Began)
	}
}

// A shelving of an earlier boot ends when the person asked for. One of this boot has the
// length that was asked for.
func TestShiftOfAShelving(t *testing.T) {
	p := made()
	show(p, 0, cool, 19)
	if err := p.Act(panel.Action{Do: panel.Shelve, Alarm: cool.String(), Until: start.Add(time.Hour)}); err != nil {
		t.Fatal(err)
	}
	asked := start.Add(time.Hour)
	for _, x := range []struct {
		since time.Time
		by    time.Duration
		want  time.Time
	}{
		{start.Add(time.Second), 30 * time.Minute, asked},
		{start.Add(time.Second), -1000 * time.Hour, asked.Add(-1000 * time.Hour)},
		{start, 1000 * time.Hour, asked},
		{start, 30 * time.Minute, asked.Add(30 * time.Minute)},
	} {
		p.Shift(x.since, x.by)
		if a, _ := p.Alarm(cool); !a.ShelvedUntil.Equal(x.want) {
			t.Errorf("moved by %s from %s on, it is shelved until %s, want %s", x.by, x.since, a.ShelvedUntil, x.want)
		}
	}
	if err := p.Act(panel.Action{Do: panel.Unshelve, Alarm: cool.String()}); err != nil {
		t.Fatal(err)
	}
	p.Shift(start, time.Hour)
	if a, _ := p.Alarm(cool); !a.ShelvedUntil.IsZero() {
		t.Errorf("shown again, it is shelved until %s", a.ShelvedUntil)
	}
}

func TestDailyReportIsDueOnce(t *testing.T) {
	p := made()
	p.SetCalled(box, start)
	if x, _ := p.Alarm(box); !x.Called.Equal(start) || len(p.Unwritten().Changed()) != 0 {
		t.Errorf("called %v, changed %v", x.Called, changed(p))
	}
}
