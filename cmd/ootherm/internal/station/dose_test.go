package station_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// boxed is a plan whose room and incubator both have limits of exposure.
func boxed(t *testing.T) plan.Plan {
	p := testPlan(t)
	for i := range p.Zones {
		p.Zones[i].Wanted, p.Zones[i].Safe = nil, &plan.Band{Low: ptr(0), High: ptr(50)}
		p.Zones[i].Total = &plan.Dose{High: ptr(26), For: 3 * time.Hour}
	}
	p.Zones[0].Single = &plan.Dose{High: ptr(26), For: time.Hour}
	return p
}

const eightBoxes = `{"key":"e1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"e2","at":"2026-04-02T19:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":8,"laid_after":"2026-04-01T19:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
`

func exposures(b *bench) (all []string) {
	for _, e := range b.events {
		if e.Alarm == "single-event" || e.Alarm == "cumulative" {
			box := ""
			if e.Box != nil {
				box = *e.Box
			}
			all = append(all, e.Alarm+" "+box+" "+e.To)
		}
	}
	slices.Sort(all)
	return all
}

// Eight boxes in one warm room are eight alarms and one message, which says of each
// how long past which limit, and which eggs.
func TestExposureOfEightBoxesIsOneMessage(t *testing.T) {
	b := newBench(t, boxed(t))
	lines := eightBoxes
	for _, n := range strings.Fields("1 2 3 4 5 6 7 8") {
		lines += `{"key":"b` + n + `","at":"2026-04-02T19:00:00Z","entry":"box","box":"B` + n + `","zone":"room"}
{"key":"p` + n + `","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S1-` + n + `","box":"B` + n + `","slot":"a"}
`
	}
	b.note(lines)
	for at := began; at.Before(began.Add(65 * time.Minute)); at = at.Add(time.Minute) {
		b.observe(at, map[string]float64{"air": 26.5, "dummy": 23, "warm": 24})
	}
	if got := exposures(b); len(got) != 8 || got[0] != "single-event B1 active" {
		t.Fatalf("raised %q, want eight boxes' single events: the zone itself has boxes", got)
	}
	for _, e := range b.events {
		if e.Zone == nil || *e.Zone != "room" || e.Unit == nil || *e.Unit != "seconds" {
			t.Errorf("%+v does not name the room, or that it counts seconds", e)
		}
	}
	got := b.waiting()
	if len(got) != 1 || got[0].Subject != "◆ CRITICAL BOX B1 out of bounds for 1 h, and 7 more" {
		t.Fatalf("messages %q, want one for the eight", subjects(got))
	}
	for _, part := range []string{"Also:", "B8 with S1 (Sorrel), 1 egg", "B1 with S1 (Sorrel), 1 egg, 0 % of the way: at or above 78.8 °F for 1 h at a stretch."} {
		if !strings.Contains(got[0].Body, part) {
			t.Errorf("it lacks %q:\n%s", part, got[0].Body)
		}
	}
}

// A box has its own probe's temperature, its own stay and its own eggs: what the
// zone's other probes felt is not its, a restart forgets nothing, a move takes it
// along, eggs carry it into another box, and an empty box has none.
func TestExposureGoesWithTheEggs(t *testing.T) {
	b := newBench(t, boxed(t))
	b.note(eightBoxes + `{"key":"x1","at":"2026-04-02T19:00:00Z","entry":"box","box":"B1","zone":"room","probe":"dummy"}
{"key":"x2","at":"2026-04-02T19:00:00Z","entry":"box","box":"B2","zone":"room"}
{"key":"x3","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
{"key":"x4","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S1-2","box":"B2","slot":"a"}
`)
	at := began
	run := func(d time.Duration, air, dummy, warm float64) {
		for end := at.Add(d); at.Before(end); at = at.Add(time.Minute) {
			b.observe(at, map[string]float64{"air": air, "dummy": dummy, "warm": warm})
		}
	}
	said := func(what string, want ...string) {
		t.Helper()
		if got := exposures(b); !slices.Equal(got, want) {
			t.Fatalf("%s: %q, want %q", what, got, want)
		}
		b.events = nil
	}
	run(50*time.Minute, 23, 27, 24)
	run(30*time.Minute, 23, 23, 24)
	run(50*time.Minute, 27, 23, 24) // not the probe of B1
	run(10*time.Minute, 23, 23, 24)
	said("two excursions under an hour")
	b.start(at)
	// B1 has 50 min, B2, which goes by the worst of each probe, as much.
	b.note(`{"key":"m1","at":"` + at.Format(time.RFC3339) + `","entry":"moved","box":"B1","zone":"incubator","probe":"warm"}` + "\n")
	run(2*time.Hour, 23, 23, 27)
	said("two hours more, in the incubator")
	run(15*time.Minute, 23, 23, 27)
	said("three hours in all, over a restart and a move", "cumulative B1 active")
	m := b.waiting()
	if body := m[len(m)-1].Body; !strings.Contains(body, "B1 with S1 (Sorrel), 1 egg, ") || !strings.Contains(body, "at or above 78.8 °F for 3 h") {
		t.Errorf("the message does not say which eggs and how long:\n%s", body)
	}
	b.start(at)
	run(10*time.Minute, 23, 23, 24)
	said("a restart later it stands")
	standing := func() (keys []string) {
		for _, a := range b.Now().Alarms {
			if a.State == "active" && a.Alarm == "cumulative" {
				keys = append(keys, *a.Box+" in "+*a.Zone)
			}
		}
		return keys
	}
	if got := standing(); !slices.Equal(got, []string{"B1 in incubator"}) {
		t.Fatalf("standing: %q", got)
	}
	b.note(`{"key":"m2","at":"` + at.Format(time.RFC3339) + `","entry":"moved","box":"B1","zone":"room","probe":"dummy"}` + "\n")
	run(5*time.Minute, 23, 23, 24)
	if got := standing(); !slices.Equal(got, []string{"B1 in room"}) {
		t.Fatalf("moved back: %q", got)
	}
	b.events = nil
	b.note(`{"key":"m3","at":"` + at.Format(time.RFC3339) + `","entry":"moved","egg":"S1-1","box":"B2","slot":"b"}` + "\n")
	run(5*time.Minute, 23, 23, 24)
	said("the egg is moved to B2 and has it still", "cumulative B1 normal", "cumulative B2 active")
	b.note(`{"key":"m4","at":"` + at.Format(time.RFC3339) + `","entry":"lost","egg":"S1-1","why":"mould"}` + "\n")
	run(5*time.Minute, 23, 23, 24)
	said("the other egg of B2 has under an hour", "cumulative B2 returned")
}

// While what the eggs felt is still being found in the history, after a restart or a
// move, an alarm that stands neither ends nor is sent again.
func TestExposureHoldsWhileItIsComputed(t *testing.T) {
	b := newBench(t, boxed(t))
	b.note(eightBoxes + `{"key":"x1","at":"2026-04-02T19:00:00Z","entry":"box","box":"B1","zone":"room"}
{"key":"x3","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
`)
	at := began
	run := func(d time.Duration, c float64) {
		for end := at.Add(d); at.Before(end); at = at.Add(time.Minute) {
			b.observe(at, map[string]float64{"air": c, "dummy": 23, "warm": 24})
		}
	}
	run(170*time.Minute, 27)
	b.note(`{"key":"x4","at":"` + at.Format(time.RFC3339) + `","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}` + "\n")
	run(15*time.Minute, 27)
	b.events = nil
	n := len(b.waiting())
	var jobs []func() func()
	b.options.Worker = func(job func() func()) { jobs = append(jobs, job) }
	b.start(at)
	run(5*time.Minute, 23)
	b.note(`{"key":"m1","at":"` + at.Format(time.RFC3339) + `","entry":"moved","box":"B1","zone":"incubator"}` + "\n")
	run(5*time.Minute, 23)
	for len(jobs) > 0 { // one egg's history is found before the other's
		job := jobs[len(jobs)-1]
		jobs = jobs[:len(jobs)-1]
		job()()
		run(time.Minute, 23)
	}
	for _, e := range b.events {
		if e.Alarm == "cumulative" {
			t.Errorf("%s went from %s to %s", e.Alarm, e.From, e.To)
		}
	}
	if got := subjects(b.waiting()[n:]); len(got) > 1 || len(got) == 1 && !strings.Contains(got[0], "BOX B1 back in order") {
		t.Errorf("told %q, want no more than the end of the stretch", got)
	}
}
