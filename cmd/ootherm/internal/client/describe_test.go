package client

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/forms"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// A late clutch is called late, whether or not it had a window before. Only a clutch
// without a forecast has no window.
func TestWindowText(t *testing.T) {
	day := time.Date(2026, 6, 12, 9, 0, 0, 0, time.UTC)
	window := snapshot.Window{CheckFrom: day, Likely: day.AddDate(0, 0, 4), LateAfter: day.AddDate(0, 0, 8)}
	late := window
	late.Late = true
	states := snapshot.States()
	for name, c := range map[string]struct {
		clutch snapshot.Clutch
		want   string
	}{
		"a window":                       {snapshot.Clutch{Window: &window, State: &states[0]}, "hatch window 12-20 Jun, most likely 16 Jun"},
		"check daily":                    {snapshot.Clutch{Window: &window, State: &states[1]}, "check daily: 12-20 Jun, most likely 16 Jun"},
		"hatching without a window":      {snapshot.Clutch{State: &states[2]}, "hatching"},
		"late after a window":            {snapshot.Clutch{Window: &late, State: &states[3]}, "late: was expected by 20 June"},
		"late from the first forecast":   {snapshot.Clutch{State: &states[3]}, "late"},
		"a dam without a profile":        {snapshot.Clutch{Because: []string{"the dam has no kind"}}, "no window"},
		"nothing is known of the clutch": {snapshot.Clutch{}, "no window"},
	} {
		c.clutch.Clutch, c.clutch.Eggs = "S1", []snapshot.Egg{{Egg: "S1-1", Fate: "waiting"}}
		var out strings.Builder
		n := &snapshot.Snapshot{Boxes: []snapshot.Box{{Box: "B1", Clutches: []snapshot.Clutch{c.clutch}}}}
		if err := DescribeBoxes(&out, n, words.Reader{}, "", nil); err != nil {
			t.Fatal(err)
		}
		first, _, _ := strings.Cut(out.String(), "\n")
		if fields := strings.Split(first, "  "); !contains(fields, c.want) {
			t.Errorf("%s: the line is %q, want %q in it", name, first, c.want)
		}
	}
}

// What a window lacks is said with the command that mends it; where no eggs wait, what is
// noted first.
func TestDescribeBoxesLeadsOn(t *testing.T) {
	olive, crested := "Olive", "crested gecko"
	eggs := []snapshot.Egg{{Egg: "C1-1", Fate: "waiting"}}
	n := &snapshot.Snapshot{
		Boxes: []snapshot.Box{{Box: "B1", Clutches: []snapshot.Clutch{
			{Clutch: "C1", Dam: &olive, Eggs: eggs, Missing: []string{snapshot.MissingKind}},
			{Clutch: "C2", Profile: &crested, Eggs: eggs, Missing: []string{snapshot.MissingModel, snapshot.MissingZone, snapshot.MissingHistory}},
		}}},
		Unplaced: []snapshot.Unplaced{{Clutch: "C3", Eggs: eggs}},
	}
	dam, _ := forms.Of("dam")
	needed := []forms.Filled{{Form: dam}}
	for _, c := range []struct {
		n    *snapshot.Snapshot
		want []string
	}{
		{n, []string{
			`no window: The kind of Olive is not noted: ootherm book note amended --config x.toml --dam "Olive" --profile PROFILE`,
			`no window: Nothing is known of how long a crested gecko takes: ootherm help species`,
			`no window: The book does not say where box B1 stands: ootherm book note moved --config x.toml --box "B1" --zone ZONE`,
			`no window: What the eggs have felt is being read from the history.`,
			`no window: The eggs lie in no box by the book: ootherm book note placed --config x.toml --egg "C1-1" --box BOX --slot SLOT`,
		}},
		{&snapshot.Snapshot{}, []string{"No eggs wait. Note what comes first:", "  ootherm book note dam --config x.toml --name NAME --profile PROFILE"}},
	} {
		var out strings.Builder
		if err := DescribeBoxes(&out, c.n, words.Reader{}, " --config x.toml", needed); err != nil {
			t.Fatal(err)
		}
		for _, want := range c.want {
			if !strings.Contains(out.String(), want) {
				t.Errorf("no %q in\n%s", want, out.String())
			}
		}
	}
}

func contains(fields []string, want string) bool {
	for _, f := range fields {
		if strings.TrimSpace(f) == want {
			return true
		}
	}
	return false
}

// While an on-delay runs or a message waits, not all is in order, and what comes is said.
func TestDescribeAlarmsToCome(t *testing.T) {
	at := time.Date(2026, 6, 12, 9, 0, 0, 0, time.UTC)
	room, value := "room", 29.0
	pending := snapshot.PendingAlarm{
		Key: "temperature-high.critical/room", Alarm: "temperature-high", AlarmPlace: snapshot.AlarmPlace{Zone: &room}, Priority: "critical",
		Since: at.Add(-4 * time.Minute), RaisedAt: at.Add(6 * time.Minute), Value: &value,
	}
	next, said := at.Add(2*time.Minute), "404 Not Found"
	waiting := []snapshot.Delivery{{Sender: "mail", Waiting: 2}, {Sender: "hook", Waiting: 1, NextTry: &next, Refused: 1, Err: &said}}
	for _, c := range []struct {
		n    snapshot.Snapshot
		want []string
	}{
		{snapshot.Snapshot{At: at}, []string{"All in order."}},
		{snapshot.Snapshot{At: at, Health: snapshot.Health{Deliveries: waiting}}, []string{"mail: 2 messages not delivered yet; next try: now.\n" +
			"hook: 1 message not delivered yet; next try: 09:02. The last try: 404 Not Found\n" +
			"hook: 1 message refused by the receiver, and not tried again. The last try: 404 Not Found"}},
		{snapshot.Snapshot{At: at, Health: snapshot.Health{Deliveries: []snapshot.Delivery{{Sender: "mail", Waiting: 1, Err: &said, AlarmsFailSince: &at}}}},
			[]string{"Alarm messages by mail do not get out since 09:00: 404 Not Found.\nmail: 1 message not delivered yet; next try: now. The last try: 404 Not Found"}},
		{snapshot.Snapshot{At: at, Pending: []snapshot.PendingAlarm{pending}},
			[]string{"▲ room", "too warm", "29.0 °C", "critical: go now", "since 08:56", "no alarm yet; raised at 09:06 if it lasts", "temperature-high.critical/room"}},
	} {
		var out strings.Builder
		if err := DescribeAlarms(&out, &c.n, words.Reader{Place: time.UTC}); err != nil {
			t.Fatal(err)
		}
		fields := strings.Split(strings.TrimSpace(out.String()), "  ")
		for _, want := range c.want {
			if !contains(fields, want) {
				t.Errorf("no %q in %q", want, out.String())
			}
		}
	}
}
