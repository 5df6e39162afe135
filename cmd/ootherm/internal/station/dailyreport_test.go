package station_test

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// The line of a day: one a day, with the day's figures, over restarts too; none of
// a day on which the station was off for an hour from then on; and no 'all well'
// while an alarm stands.
func TestAllWellOnceADay(t *testing.T) {
	p := testPlan(t)
	eight := 8 * time.Hour
	p.Senders = []plan.Sender{{Name: "mail"}, {Name: "push", Priorities: []string{"critical"}, AllWell: &eight}}
	b := newBench(t, p)
	b.note(season)
	lines := func() (all []alert.Message) {
		for _, m := range b.waiting() {
			if strings.HasPrefix(m.Alarm, "all-well.notice/part:push") {
				all = append(all, m)
			}
		}
		return all
	}
	at := began // 19:00
	run := func(until time.Duration, low float64, restart bool) {
		for ; at.Before(began.Add(until)); at = at.Add(time.Minute) {
			c := 23.3
			if at.Hour() == 3 {
				c = low
			}
			b.observe(at, map[string]float64{"air": c, "dummy": c + 0.2, "warm": 27})
			if restart && at.Minute()%5 == 0 {
				b.start(at)
			}
		}
	}
	run(13*time.Hour, 22.8, false)
	if got := lines(); len(got) != 0 {
		t.Fatalf("before 08:00: %q", subjects(got))
	}
	run(15*time.Hour, 22.8, true)
	got := lines()
	if len(got) != 1 || got[0].Subject != "● EGG ROOM all well" || got[0].Sender != "push" || got[0].At.Format("15:04") != "08:00" || !got[0].Until.Equal(got[0].At.Add(time.Hour)) {
		t.Fatalf("messages %+v, want one line to push, of 08:00, that nobody wants an hour later", got)
	}
	for _, part := range []string{"Last day: room 73.0-73.9 °F; incubator 80.6 °F.", "3 of 3 probes answer.", "Next window: S1 (Sorrel) in B1, ", "This comes once a day."} {
		if !strings.Contains(got[0].Body, part) {
			t.Errorf("it lacks %q:\n%s", part, got[0].Body)
		}
	}
	run(36*time.Hour, 22.8, false)
	at = at.Add(2*time.Hour + 30*time.Minute) // off from 07:00 to 09:30
	b.start(at)
	run(40*time.Hour, 22.8, false)
	if got := lines(); len(got) != 1 {
		t.Fatalf("of the day on which it was off: %q", subjects(got[1:]))
	}
	for ; at.Before(began.Add(62 * time.Hour)); at = at.Add(time.Minute) { // cold from now on
		c := max(21.5, 23.3-at.Sub(began.Add(40*time.Hour)).Hours())
		b.observe(at, map[string]float64{"air": c, "dummy": c + 0.2, "warm": 27})
	}
	got = lines()
	if len(got) != 2 || got[1].Subject != "◆ EGG ROOM 1 alarm stands" || !strings.Contains(got[1].Body, "Room too cold since ") {
		t.Fatalf("with a cold room: %+v, want a line that says so", got)
	}
	for _, k := range b.Now().Known {
		if k.Alarm == "all-well" {
			t.Error("the line of the day counts as an alarm")
		}
	}
}
