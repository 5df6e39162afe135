package rules_test

import (
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
)

// Each condition of the station raises its alarm after its delay, and not before it is known.
func TestConditionsOfTheStation(t *testing.T) {
	for what, x := range map[string]struct {
		key  alert.Key
		set  func(*rules.View)
		want time.Duration // since the first look, in which a delay begins; -1: never
	}{
		"nothing written yet":        {rules.StorageFailing, func(v *rules.View) { v.Health.StorageKnown = false }, -1},
		"writing fails":              {rules.StorageFailing, func(v *rules.View) { v.Health.StorageFailing = true }, 0},
		"the card is nearly full":    {rules.StorageFull, func(v *rules.View) { v.Health.Free = 100<<20 - 1 }, 0},
		"the card is not yet full":   {rules.StorageFull, func(v *rules.View) { v.Health.Free = 100 << 20 }, -1},
		"the room is not known":      {rules.StorageFull, func(v *rules.View) { v.Health.Free, v.Health.FreeKnown = 0, false }, -1},
		"the time is not known":      {rules.ClockUnverified, func(v *rules.View) { v.Health.Synchronised = false }, 10 * time.Minute},
		"a copy fails":               {rules.CopyFailing, func(v *rules.View) { v.Health.CopyFailing = true }, time.Hour},
		"a sender fails":             {rules.SenderFailing("mail"), func(v *rules.View) { v.Health.Senders[0].Failing = true }, 15 * time.Minute},
		"the heartbeat fails":        {rules.HeartbeatFailing, func(v *rules.View) { v.Health.HeartbeatFailing = true }, 3 * time.Hour},
		"it was not tried":           {rules.HeartbeatFailing, func(v *rules.View) { v.Health.HeartbeatFailing, v.Health.HeartbeatTried = true, false }, -1},
		"a sender was not tried":     {rules.SenderFailing("mail"), func(v *rules.View) { v.Health.Senders[0].Tried = false }, -1},
		"readings are damaged":       {rules.HistoryDamaged, func(v *rules.View) { v.Health.HistoryDamaged = true }, 0},
		"it was off for 11 minutes":  {rules.StationRestarted, func(v *rules.View) { v.Off = 11 * time.Minute }, 0},
		"it was off for ten minutes": {rules.StationRestarted, func(v *rules.View) { v.Off = 10 * time.Minute }, -1},
		"it was on":                  {rules.StationRestarted, func(*rules.View) {}, -1},
	} {
		b := newBench(t)
		b.full()
		x.set(&b.v)
		b.limits()
		b.at(0)
		if x.want == 0 {
			check(t, what, b.panel.Stands(x.key), true)
			continue
		}
		if x.want < 0 {
			check(t, what+": raised at once", b.panel.Stands(x.key), false)
		}
		check(t, what+": raised after", b.raisedAfter(x.key, 4*time.Hour), max(x.want, 0))
	}
}

func TestRestartIsToldForTenMinutes(t *testing.T) {
	b := newBench(t)
	b.v.Off = time.Hour
	b.limits()
	b.at(0)
	check(t, "over after", b.endsAfter(rules.StationRestarted, time.Hour), 10*time.Minute)
}

// A shorter time off counts as measured, and nobody is told.
func TestShortTimeOffIsNotTold(t *testing.T) {
	for off, want := range map[time.Duration]bool{8 * time.Minute: false, 10 * time.Minute: false, 12 * time.Minute: true} {
		b := newBench(t)
		b.v.Off = off
		b.limits()
		b.at(0)
		check(t, off.String()+" off is told", b.panel.Stands(rules.StationRestarted), want)
	}
}

// An alarm of an earlier restart ends, and this restart raises it again.
func TestSecondRestart(t *testing.T) {
	b := newBench(t)
	b.v.Off = time.Hour
	b.limits()
	b.at(0)
	stored := b.panel.Unwritten().Changed()
	b = newBench(t)
	b.v.Off = time.Hour
	b.panel = panel.New(stored, poll)
	b.limits()
	_ = b.panel.Take()
	b.at(time.Minute)
	var got []alert.State
	for _, e := range b.panel.Take() {
		got = append(got, e.To)
	}
	if len(got) != 2 || got[1] != alert.Active {
		t.Errorf("the alarm of the restart becomes %q, want it to end and be raised", got)
	}
}

// The alarms of a clutch follow its state. One that hatches before it was to be checked daily
// is told once, as hatching; one that was checked daily goes on being so.
func TestStates(t *testing.T) {
	for what, x := range map[string]struct {
		before, is           rules.Clutch
		open, hatching, late bool
	}{
		"incubating":                 {is: rules.Clutch{Known: true}},
		"check daily":                {is: rules.Clutch{Known: true, CheckDaily: true}, open: true},
		"hatching at once":           {is: rules.Clutch{Known: true, Hatching: true}, hatching: true},
		"hatching after check daily": {before: rules.Clutch{Known: true, CheckDaily: true}, is: rules.Clutch{Known: true, Hatching: true}, open: true, hatching: true},
		"late":                       {is: rules.Clutch{Known: true, Late: true}, late: true},
		"one part late, one hatches": {is: rules.Clutch{Known: true, Late: true, Hatching: true}, hatching: true, late: true},
		"no longer known":            {before: rules.Clutch{Known: true, Late: true}, is: rules.Clutch{}, late: true},
	} {
		b := newBench(t)
		b.full()
		x.before.Name, x.before.Box, x.is.Name, x.is.Box = "C1", "B1", "C1", "B1"
		b.v.Clutches[0] = x.before
		b.limits()
		b.at(0)
		b.v.Clutches[0], b.v.Forecast = x.is, start
		b.at(time.Minute)
		check(t, what+": open", b.panel.Stands(rules.WindowOpening("C1", "B1")), x.open)
		check(t, what+": hatching", b.panel.Stands(rules.Hatching("C1", "B1")), x.hatching)
		check(t, what+": late", b.panel.Stands(rules.Late("C1", "B1")), x.late)
	}
}

// A clutch that becomes late is so alone: the notices before it end at once, without a
// message, and a window that moves a little raises none of them again.
func TestLateTakesThePlaceOfTheOthers(t *testing.T) {
	opening, hatching, late := rules.WindowOpening("C1", "B1"), rules.Hatching("C1", "B1"), rules.Late("C1", "B1")
	b := newBench(t)
	b.full()
	step := 0
	is := func(c rules.Clutch) (told []string) {
		c.Name, c.Box, c.Known = "C1", "B1", true
		b.v.Clutches[0], b.v.Forecast = c, start.Add(time.Duration(step)*time.Minute)
		b.at(time.Duration(step) * time.Minute)
		step++
		for _, e := range b.panel.Take() {
			if e.Notify {
				told = append(told, e.Key.String())
			}
		}
		return told
	}
	b.limits()
	is(rules.Clutch{CheckDaily: true})
	is(rules.Clutch{Hatching: true})
	check(t, "check daily and hatching stand", b.panel.Stands(opening) && b.panel.Stands(hatching), true)
	if told := is(rules.Clutch{Late: true}); len(told) != 1 || told[0] != late.String() {
		t.Errorf("as it becomes late %q is told, want %s alone", told, late)
	}
	for _, k := range []alert.Key{opening, hatching} {
		x, _ := b.panel.Alarm(k)
		check(t, k.String(), x.State, alert.Normal)
	}
	check(t, "late", b.panel.Stands(late), true)
	if told := is(rules.Clutch{CheckDaily: true}); len(told) != 0 {
		t.Errorf("as its window moves a little %q is told", told)
	}
	check(t, "late stands for its delay", b.panel.Stands(late), true)
	if told := is(rules.Clutch{Hatching: true}); len(told) != 1 || told[0] != hatching.String() {
		t.Errorf("as one pips %q is told, want %s", told, hatching)
	}
	if told := is(rules.Clutch{Late: true, CheckDaily: true}); len(told) != 1 || told[0] != opening.String() {
		t.Errorf("as other eggs there are to be checked %q is told, want %s", told, opening)
	}
}

// Windows are looked at every ten minutes, and at once when the forecast is new.
func TestWhenWindowsAreLookedAt(t *testing.T) {
	for what, x := range map[string]struct {
		after    time.Duration
		forecast time.Time
		want     bool
	}{
		"nine minutes later":          {9 * time.Minute, time.Time{}, false},
		"ten minutes later":           {10 * time.Minute, time.Time{}, true},
		"a minute later, new windows": {time.Minute, start, true},
	} {
		b := newBench(t)
		b.full()
		b.v.Clutches[0].Known = true
		b.limits()
		b.at(0)
		b.v.Clutches[0].CheckDaily, b.v.Forecast = true, x.forecast
		b.at(x.after)
		check(t, what, b.panel.Stands(rules.WindowOpening("C1", "B1")), x.want)
	}
}

func TestDrying(t *testing.T) {
	for what, x := range map[string]struct {
		lost            float64
		notice, warning bool
		hidden          bool
	}{
		"a tenth":         {lost: 0.19},
		"a fifth":         {lost: 0.2, notice: true},
		"under two fifth": {lost: 0.39, notice: true},
		"two fifths":      {lost: 0.4, notice: true, warning: true, hidden: true},
	} {
		b := newBench(t)
		b.full()
		b.v.Boxes[0].Lost = &x.lost
		b.limits()
		notice, warning := rules.Drying("B1", alert.Notice), rules.Drying("B1", alert.Warning)
		b.at(0)
		b.at(59 * time.Minute)
		check(t, what+": within the hour", b.panel.Stands(notice) || b.panel.Stands(warning), false)
		b.at(70 * time.Minute)
		check(t, what+": notice", b.panel.Stands(notice), x.notice)
		check(t, what+": warning", b.panel.Stands(warning), x.warning)
		n, _ := b.panel.Alarm(notice)
		check(t, what+": the notice is hidden", n.Hidden, x.hidden)
	}
	b := newBench(t)
	b.full()
	b.v.Boxes[0].Eggs = false
	b.limits()
	if _, ok := b.panel.Alarm(rules.Drying("B1", alert.Notice)); ok {
		t.Error("a box without eggs is watched")
	}
}

func TestReminderOfWhatIsOutOfService(t *testing.T) {
	b := newBench(t)
	b.limits()
	if err := b.panel.Act(panel.Action{Do: panel.TakeOut, Zone: "room"}); err != nil {
		t.Fatal(err)
	}
	k := panel.Reminder("room")
	check(t, "reminded after", b.raisedAfter(k, 24*time.Hour), 12*time.Hour)
	check(t, "called again", b.limit(k).ReAlarm, 7*24*time.Hour)
	b.room().Eggs = true
	b.limits()
	check(t, "with eggs called again", b.limit(k).ReAlarm, 24*time.Hour)
}
