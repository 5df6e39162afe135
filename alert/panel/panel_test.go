package panel_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
)

var (
	start = time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)
	cold  = alert.Key{Kind: alert.TemperatureLow, Priority: alert.Critical, Zone: "room"}
	cool  = alert.Key{Kind: alert.TemperatureLow, Priority: alert.Warning, Zone: "room"}
	box   = alert.Key{Kind: alert.Drying, Priority: alert.Notice, Box: "B1"}
	card  = alert.Key{Kind: alert.StorageFailing, Priority: alert.Critical}
)

const poll = 10 * time.Second

var places = panel.Places{Zones: []string{"room", "shelf"}, Boxes: map[string]string{"B1": "room"}}

// limits are those of the keys above: 20 C without delays, and conditions.
func limits() map[alert.Key]alert.Limit {
	return map[alert.Key]alert.Limit{
		cold:                   {At: 18, Deadband: 0.5, ReAlarm: time.Hour},
		cool:                   {At: 20, Deadband: 0.5, ReAlarm: time.Hour},
		box:                    panel.Condition(0, 0, 0),
		card:                   panel.Condition(0, 0, 0),
		panel.Reminder("room"): {High: true, At: (12 * time.Hour).Seconds()},
		panel.Reminder(""):     {High: true, At: (12 * time.Hour).Seconds()},
	}
}

// made is a panel at start that watches limits.
func made(stored ...alert.Alarm) *panel.Panel {
	p := panel.New(stored, poll)
	p.Step(start)
	p.Want(limits(), places, "")
	return p
}

func show(p *panel.Panel, after time.Duration, k alert.Key, v float64) {
	p.Step(start.Add(after))
	p.Show(k, panel.Reading{Value: v, Known: true, Probe: "dummy"})
}

// said is the events since the last time as texts "kind.priority from>to", with * where one
// deserves a message.
func said(p *panel.Panel) (all []string) {
	for _, e := range p.Take() {
		text := string(e.Key.Kind) + "." + string(e.Key.Priority) + " " + string(e.From) + ">" + string(e.To)
		if e.Notify {
			text += " *"
		}
		all = append(all, text)
	}
	return all
}

func check(t *testing.T, p *panel.Panel, what string, want ...string) {
	t.Helper()
	if got := said(p); !slices.Equal(got, want) {
		t.Errorf("%s: %q, want %q", what, got, want)
	}
}

func act(t *testing.T, p *panel.Panel, a panel.Action) {
	t.Helper()
	if err := p.Act(a); err != nil {
		t.Fatal(err)
	}
}

// Changed gives the keys that the journal has to learn of, in order.
func changed(p *panel.Panel) (keys []string) {
	for _, x := range p.Unwritten().Changed() {
		keys = append(keys, x.Key.String())
	}
	slices.Sort(keys)
	return keys
}

func TestAlarmIsRaisedAndEnds(t *testing.T) {
	p := made()
	check(t, p, "nothing shown")
	show(p, 0, cool, 19)
	check(t, p, "too cold", "temperature-low.warning normal>active *")
	if !p.Stands(cool) || p.Probe(cool) != "dummy" {
		t.Errorf("stands %v by %q", p.Stands(cool), p.Probe(cool))
	}
	show(p, time.Minute, cool, 21)
	check(t, p, "warm again", "temperature-low.warning active>returned *")
	p.Show(alert.Key{Kind: alert.Late, Priority: alert.Notice}, panel.Reading{Value: 1, Known: true})
	check(t, p, "a key that is not watched")
}

// A warning that is called again while the critical alarm of its cause calls deserves no
// message.
func TestWarningIsOutrankedByCritical(t *testing.T) {
	for what, critical := range map[string]float64{"with the critical alarm": 17, "without": 19} {
		p := made()
		show(p, 0, cold, critical)
		show(p, 0, cool, 17)
		_ = said(p)
		show(p, time.Hour, cool, 17)
		want := "temperature-low.warning active>active *"
		if critical < 18 {
			want = strings.TrimSuffix(want, " *")
		}
		check(t, p, what, want)
	}
}

func TestUnwantedAlarmEndsAndComesBack(t *testing.T) {
	p := made()
	show(p, 0, cool, 19)
	_ = said(p)
	without := limits()
	delete(without, cool)
	p.Want(without, places, "the band is gone")
	events := p.Take()
	if len(events) != 1 || !events[0].Gone || p.Ended(cool) != "the band is gone" {
		t.Errorf("events %+v, because %q", events, p.Ended(cool))
	}
	if _, ok := p.Alarm(cool); ok {
		t.Error("it is watched without a limit")
	}
	if id := p.NextMessage(cool); id != cool.String()+"/1" {
		t.Errorf("its message is %s", id)
	}
	p.Want(limits(), places, "")
	if id := p.NextMessage(cool); id != cool.String()+"/2" || p.Ended(cool) != "" {
		t.Errorf("back: its message is %s, ended %q", id, p.Ended(cool))
	}
}

// An alarm that was forgotten is watched when its limit comes back, though an alarm that is not
// there was asked for before it.
func TestALimitThatComesBackIsWatched(t *testing.T) {
	for k := range limits() {
		p := made()
		absent := alert.Key{Kind: alert.HumidityLow, Priority: alert.Warning, Zone: "shelf"}
		ask := func() {
			p.Alarm(absent)
			p.Alarm(k)
		}
		ask()
		without := limits()
		delete(without, k)
		p.Want(without, places, "since the configuration changed")
		ask()
		p.Forget(start.Add(time.Hour))
		p.Alarm(absent)
		p.Want(map[alert.Key]alert.Limit{k: limits()[k]}, places, "")
		if !slices.Contains(p.Keys(), k) {
			t.Errorf("%s is not watched", k)
		}
	}
}

// While it stands, an alarm whose limit moved names the limit that it was raised by.
func TestRaisedBy(t *testing.T) {
	p := made()
	show(p, 0, cool, 19)
	if l, changed := p.RaisedBy(cool); changed {
		t.Errorf("raised by %v before the limit changed", l)
	}
	for _, at := range []float64{18, 17} {
		next := limits()
		next[cool] = alert.Limit{At: at}
		p.Want(next, places, "")
		if l, changed := p.RaisedBy(cool); !changed || l.At != 20 {
			t.Errorf("raised by %v (%v), want 20", l.At, changed)
		}
	}
	show(p, time.Minute, cool, 19) // ends by the limit of 17
	show(p, time.Hour, cool, 16)
	if l, changed := p.RaisedBy(cool); changed {
		t.Errorf("raised again, by %v", l)
	}
}

func TestConditionThatBeganEarlier(t *testing.T) {
	p := made()
	p.Show(card, panel.Reading{Value: 1, Known: true, Began: start.Add(-time.Hour)})
	if e := p.Take(); len(e) != 1 || !e[0].Began.Equal(start.Add(-time.Hour)) {
		t.Errorf("events %+v", e)
	}
	if x, _ := p.Alarm(card); !x.Began.Equal(start.Add(-time.Hour)) {
		t.Errorf("began %v", x.Began)
	}
}

func TestSuppressed(t *testing.T) {
	p := made()
	p.Suppress(cool, true)
	check(t, p, "hidden", "temperature-low.warning normal>suppressed")
	show(p, 0, cool, 19)
	check(t, p, "too cold while hidden")
	p.Suppress(cool, true)
	check(t, p, "hidden twice")
	p.Suppress(cool, false)
	check(t, p, "shown again", "temperature-low.warning suppressed>active *")
}

func TestZoneOfAnAlarm(t *testing.T) {
	p := made()
	for k, want := range map[alert.Key]string{
		cool: "room", box: "room", card: "",
		{Kind: alert.Drying, Priority: alert.Notice, Box: "B9"}:             "",
		{Kind: alert.Late, Priority: alert.Notice, Box: "B1", Clutch: "C1"}: "",
	} {
		if got := p.Zone(k); got != want {
			t.Errorf("%s is in %q, want %q", k, got, want)
		}
	}
}
