package panel_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

func TestActions(t *testing.T) {
	for what, x := range map[string]struct {
		do   []panel.Action
		want alert.State
	}{
		"acknowledged":   {[]panel.Action{{Do: panel.Acknowledge, Alarm: cool.String()}}, alert.Acknowledged},
		"shelved":        {[]panel.Action{{Do: panel.Shelve, Zone: "room", Until: start.Add(time.Hour)}}, alert.Shelved},
		"shown again":    {[]panel.Action{{Do: panel.Shelve, Zone: "room", Until: start.Add(time.Hour)}, {Do: panel.Unshelve, Zone: "room"}}, alert.Active},
		"out of service": {[]panel.Action{{Do: panel.TakeOut, Zone: "room"}}, alert.OutOfService},
		"in service":     {[]panel.Action{{Do: panel.TakeOut, Zone: "room"}, {Do: panel.PutBack, Zone: "room"}}, alert.Active},
	} {
		p := made()
		show(p, 0, cool, 19)
		for _, a := range x.do {
			act(t, p, a)
		}
		if got, _ := p.Alarm(cool); got.State != x.want {
			t.Errorf("%s: it is %s, want %s", what, got.State, x.want)
		}
	}
}

// Whoever has seen a critical alarm has seen the warning of the same cause, and not the
// other way round.
func TestAcknowledgedWithItsWarning(t *testing.T) {
	for _, x := range []struct {
		seen       alert.Key
		cold, cool alert.State
	}{
		{cold, alert.Acknowledged, alert.Acknowledged},
		{cool, alert.Active, alert.Acknowledged},
	} {
		p := made()
		show(p, 0, cool, 17)
		show(p, 0, cold, 17)
		act(t, p, panel.Action{Do: panel.Acknowledge, Alarm: x.seen.String(), Who: "Ann"})
		a, _ := p.Alarm(cold)
		b, _ := p.Alarm(cool)
		if a.State != x.cold || b.State != x.cool || b.AckedBy != "Ann" {
			t.Errorf("after %s was acknowledged: critical %s, warning %s by %q", x.seen, a.State, b.State, b.AckedBy)
		}
	}
	p := made() // with no warning to acknowledge, nothing of it is written
	show(p, 0, cold, 17)
	p.Unwritten().Written()
	act(t, p, panel.Action{Do: panel.Acknowledge, Alarm: cold.String()})
	if got := changed(p); !slices.Equal(got, []string{cold.String()}) {
		t.Errorf("changed %v", got)
	}
}

func TestRefusedActions(t *testing.T) {
	for _, x := range []struct {
		a    panel.Action
		want string
	}{
		{panel.Action{Do: panel.Acknowledge, Alarm: "nonsense"}, `there is no alarm "nonsense": "nonsense" is no alarm key`},
		{panel.Action{Do: panel.Acknowledge, Alarm: "late.notice"}, `there is no alarm "late.notice" here now`},
		{panel.Action{Do: panel.Acknowledge, Zone: "attic"}, `there is no zone "attic" with alarms`},
		{panel.Action{Do: panel.Acknowledge}, `there is no zone "" with alarms`},
		{panel.Action{Do: "hush", Zone: "room"}, `"hush" is not an action: acknowledge, shelve,`},
		{panel.Action{Do: panel.Shelve, Zone: "room", Until: start}, "shelving until"},
		{panel.Action{Do: panel.TakeOut, Alarm: panel.Reminder("room").String()}, "cannot be switched off"},
	} {
		p := made()
		show(p, 0, cool, 19)
		p.Unwritten().Written()
		_ = said(p)
		if err := p.Act(x.a); err == nil || !strings.HasPrefix(err.Error(), x.want) && !strings.Contains(err.Error(), x.want) {
			t.Errorf("%+v: %v, want %q", x.a, err, x.want)
		}
		check(t, p, "after a refusal")
		if got := changed(p); len(got) > 0 {
			t.Errorf("%+v changed %v", x.a, got)
		}
	}
}

func TestOutOfService(t *testing.T) {
	p := made()
	if got := p.AllOutOfService(); len(got) > 0 {
		t.Errorf("at first %+v", got)
	}
	act(t, p, panel.Action{Do: panel.TakeOut, Alarm: cool.String()})
	p.Step(start.Add(time.Minute))
	act(t, p, panel.Action{Do: panel.TakeOut, Alarm: card.String()})
	all := p.AllOutOfService()
	if len(all) != 2 || all[0].Zone != "" || all[1].Zone != "room" || all[1].Whole || all[0].Whole {
		t.Fatalf("%+v", all)
	}
	if !all[1].Since.Equal(start) || !all[0].Since.Equal(start.Add(time.Minute)) {
		t.Errorf("since %v and %v", all[1].Since, all[0].Since)
	}
	p.Step(start.Add(2 * time.Minute))
	act(t, p, panel.Action{Do: panel.TakeOut, Zone: "room"})
	if got := p.OutOfService("room"); !got.Whole || !got.Since.Equal(start) || len(got.Keys) != 3 {
		t.Errorf("the whole zone: %+v", got)
	}
	if x, _ := p.Alarm(panel.Reminder("room")); x.Out {
		t.Error("the reminder of a zone is out of service with it")
	}
}

// The reminder's alarm has been seen when all of its zone is back in service, by whichever
// way, and what has no limit just now is back too.
func TestBackInService(t *testing.T) {
	for what, a := range map[string]panel.Action{
		"by the zone":          {Do: panel.PutBack, Zone: "room", Who: "Ann"},
		"through the reminder": {Do: panel.PutBack, Alarm: panel.Reminder("room").String(), Who: "Ann"},
	} {
		p := made()
		act(t, p, panel.Action{Do: panel.TakeOut, Zone: "room"})
		show(p, 13*time.Hour, panel.Reminder("room"), (13 * time.Hour).Seconds())
		if !p.Stands(panel.Reminder("room")) {
			t.Fatal("the reminder does not stand")
		}
		act(t, p, a)
		if got := p.OutOfService("room"); len(got.Keys) > 0 {
			t.Errorf("%s: out of service %v", what, got.Keys)
		}
		if x, _ := p.Alarm(panel.Reminder("room")); x.State != alert.Acknowledged || x.AckedBy != "Ann" {
			t.Errorf("%s: the reminder is %s by %q", what, x.State, x.AckedBy)
		}
	}
	p := made()
	act(t, p, panel.Action{Do: panel.TakeOut, Zone: "room"})
	without := limits()
	delete(without, cool)
	p.Want(without, places, "")
	act(t, p, panel.Action{Do: panel.PutBack, Zone: "room"})
	p.Want(limits(), places, "")
	if x, _ := p.Alarm(cool); x.Out {
		t.Error("what had no limit when its zone was put back is out of service still")
	}
}
