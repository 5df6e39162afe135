package station_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// wet is the season with a box that was weighed when set up: 40 g dry, 40 g water.
var wet = strings.Replace(season, `"box":"B1","zone":"room"}`, `"box":"B1","zone":"room","medium":"vermiculite","dry_g":40,"water_g":40,"total_g":112}`, 1)

// weighed is one weighing of a box, and what was poured in then.
func weighed(n int, at time.Time, box string, total, poured float64) string {
	s := fmt.Sprintf(`{"key":"w%d","at":%q,"entry":"weighed","box":%q,"total_g":%g}`+"\n", n, at.Format(time.RFC3339), box, total)
	if poured > 0 {
		s += fmt.Sprintf(`{"key":"p%d","at":%q,"entry":"watered","box":%q,"water_g":%g}`+"\n", n, at.Format(time.RFC3339), box, poured)
	}
	return s
}

func (b *bench) box(name string) snapshot.Box {
	b.t.Helper()
	i := slices.IndexFunc(b.Now().Boxes, func(x snapshot.Box) bool { return x.Box == name })
	if i < 0 {
		b.t.Fatalf("box %s is not in use", name)
	}
	return b.Now().Boxes[i]
}

func is(t *testing.T, what string, got *float64, want float64) {
	t.Helper()
	if got == nil || math.Abs(*got-want) > 1e-9 {
		t.Errorf("%s is %v, want %g", what, show(got), want)
	}
}

func show(v *float64) string {
	if v == nil {
		return "absent"
	}
	return fmt.Sprint(*v)
}

// A box that lost too much is told an hour after it was weighed, gently and then
// not; who waters it at once hears nothing; one that was never weighed calls
// nobody, however long it stands.
func TestDryBoxIsTold(t *testing.T) {
	b := newBench(t, testPlan(t))
	b.windowsDaily()
	b.note(wet + `{"key":"o","at":"2026-04-02T19:00:00Z","entry":"box","box":"B3","zone":"room","dry_g":40,"water_g":40,"total_g":112}
{"key":"c","at":"2026-04-02T19:00:00Z","entry":"clutch","clutch":"S9","dam":"Tansy","eggs":1,"laid_after":"2026-04-02T18:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
{"key":"d","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S9-1","box":"B3","slot":"a"}
`)
	at := began
	run := func(d time.Duration) {
		for end := at.Add(d); at.Before(end); at = at.Add(10 * time.Minute) {
			b.observe(at, map[string]float64{"air": 23.3, "dummy": 23.3, "warm": 27})
		}
	}
	drying := func() (all []string) {
		for _, a := range b.Now().Alarms {
			if a.Alarm == "drying" {
				all = append(all, *a.Box+" "+a.Priority+" "+a.State)
			}
		}
		return all
	}
	states := func(want ...string) {
		t.Helper()
		if got := drying(); !slices.Equal(got, want) {
			t.Fatalf("at %v the alarms are %q, want %q", at, got, want)
		}
	}
	const day = 24 * time.Hour
	run(8 * day)
	states()

	// 4 g of 40 are gone: a usual week. The scale may be 1 g out in two weighings.
	b.note(weighed(1, at, "B1", 108, 0))
	run(2 * time.Hour)
	states()
	is(t, "to add", b.box("B1").Medium.Add, 4)
	is(t, "at least", b.box("B1").Medium.AddLow, 3)
	is(t, "at most", b.box("B1").Medium.AddHigh, 5)
	is(t, "gone at least", b.box("B1").Medium.Lost, 3.0/40)
	is(t, "the ratio", b.box("B1").Medium.Ratio, 36.0/40)
	if w := b.box("B1").Medium.WeighNext; w == nil || !w.Equal(at.Add(-2*time.Hour).Truncate(time.Second).Add(7*day)) {
		t.Errorf("weigh it next %v, want a week after it was weighed", w)
	}
	if w := b.box("B2").Medium.WeighNext; w != nil {
		t.Errorf("a box without eggs is to be weighed %v", w)
	}

	// 10 g, and watered within the hour: nobody is told.
	b.note(weighed(2, at, "B1", 102, 0))
	run(30 * time.Minute)
	b.note(fmt.Sprintf(`{"key":"p2","at":%q,"entry":"watered","box":"B1","water_g":10}`+"\n", at.Format(time.RFC3339)))
	run(3 * time.Hour)
	states()

	// 10 g and not watered: 9 of 40 are gone for certain.
	b.note(weighed(3, at, "B1", 102, 0))
	run(2 * time.Hour)
	states("B1 notice active")
	m := b.waiting()
	last := m[len(m)-1]
	if want := "◆ BOX B1 drying out: add 9 g"; last.Subject != want {
		t.Errorf("the subject is %q, want %q", last.Subject, want)
	}
	for _, want := range []string{"9-11 g of water gone, 22 % or more", "Add 9-11 g (the same in ml), lukewarm", "not on them", "No more than that"} {
		if !strings.Contains(last.Body, want) {
			t.Errorf("no %q in\n%s", want, last.Body)
		}
	}

	// Worse: the warning takes the notice's place.
	b.note(weighed(4, at, "B1", 94, 0))
	run(2 * time.Hour)
	states("B1 notice suppressed", "B1 warning active")
	b.note(fmt.Sprintf(`{"key":"p4","at":%q,"entry":"watered","box":"B1","water_g":18}`+"\n", at.Format(time.RFC3339)))
	run(2 * time.Hour)
	states("B1 warning returned")
	if told := len(b.raised("drying")); told != 2 {
		t.Errorf("%d alarms, want the notice and the warning, and no more of the notice at the end", told)
	}
}

// Two boxes weighed dry in one round are one message; of a mass that cannot be, no
// water is asked for.
func TestDryBoxesTogether(t *testing.T) {
	b := newBench(t, testPlan(t))
	b.note(wet + `{"key":"o","at":"2026-04-02T19:00:00Z","entry":"box","box":"B3","zone":"room","dry_g":40,"water_g":40,"total_g":112}
{"key":"c","at":"2026-04-02T19:00:00Z","entry":"clutch","clutch":"S9","dam":"Tansy","eggs":1,"laid_after":"2026-04-02T18:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
{"key":"d","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S9-1","box":"B3","slot":"a"}
`)
	at := began.Add(10 * 24 * time.Hour)
	run := func(d time.Duration) {
		for end := at.Add(d); at.Before(end); at = at.Add(10 * time.Minute) {
			b.observe(at, map[string]float64{"air": 23.3, "dummy": 23.3, "warm": 27})
		}
	}
	told := func() (all []alert.Message) {
		for _, m := range b.waiting() {
			if strings.HasPrefix(m.Alarm, "drying.") {
				all = append(all, m)
			}
		}
		return all
	}
	run(time.Hour)
	b.note(weighed(1, at, "B1", 102, 0) + weighed(2, at, "B3", 100, 0))
	run(2 * time.Hour)
	m := told()
	if len(m) != 1 || !strings.Contains(m[0].Body, "BOX B1 drying out: add 9 g") || !strings.Contains(m[0].Body, "BOX B3 drying out: add 11 g") {
		t.Fatalf("%d messages, want one that tells of both: %+v", len(m), m)
	}
	b.note(weighed(3, at, "B1", 60, 0))
	run(2 * time.Hour)
	m = told()
	last := m[len(m)-1]
	if len(m) != 2 || last.Subject != "◆ BOX B1 drying out: weigh it" || !strings.Contains(last.Body, "weigh it again before adding any") || strings.Contains(last.Body, "Add ") {
		t.Errorf("%d messages, the last %q:\n%s", len(m), last.Subject, last.Body)
	}
}

// An egg that is taken out weighs: its loss is not drying, and where the mass of
// its kind's eggs is not known nothing is said.
func TestEggTakenOutIsNoDrying(t *testing.T) {
	b := newBench(t, testPlan(t))
	b.note(wet)
	gone := began.Add(20 * 24 * time.Hour)
	b.observe(gone.Add(time.Hour), map[string]float64{"air": 23.3})
	b.note(fmt.Sprintf(`{"key":"l1","at":%q,"entry":"lost","egg":"S1-1"}
{"key":"l2","at":%q,"entry":"lost","egg":"S1-2"}
`, gone.Format(time.RFC3339), gone.Format(time.RFC3339)) + weighed(1, gone, "B1", 102, 0))
	// 10 g less, of which two eggs of 1 to 3 g, and the scale 1 g: 3 to 9 are water.
	m := b.box("B1").Medium
	is(t, "to add", m.Add, 6)
	is(t, "at least", m.AddLow, 3)
	is(t, "at most", m.AddHigh, 9)

	p := testPlan(t)
	for i := range p.Profiles {
		p.Profiles[i].EggG.Low, p.Profiles[i].EggG.High = 0, 0
	}
	b.options.Plan = p
	b.start(gone.Add(time.Hour))
	if m := b.box("B1").Medium; m.Add != nil || m.Lost != nil || m.Unknown == nil || !strings.Contains(*m.Unknown, "egg_g") {
		t.Errorf("without their mass: %s to add, %v", show(m.Add), m.Unknown)
	}
}

func TestDamsAreForetold(t *testing.T) {
	b := newBench(t, testPlan(t))
	b.observe(began.Add(24*time.Hour), map[string]float64{"air": 23.3})
	b.note(season + `{"key":"r","at":"2026-04-03T19:00:00Z","entry":"rested","dam":"Tansy"}
{"key":"f","at":"2026-04-03T19:00:00Z","entry":"dam","dam":"Fern","profile":"crested gecko"}
`)
	due := func(at time.Time) (all []string) {
		b.observe(at, map[string]float64{"air": 23.3})
		for _, d := range b.Now().Dams {
			all = append(all, d.Dam+" "+d.Due)
		}
		return all
	}
	// Sorrel laid on 1-2 April: by common practice 25 to 45 days on, looked for 7 days before.
	for _, c := range [][2]string{
		{"2026-04-19T18:00:00Z", "Sorrel later, Fern unknown"},
		{"2026-04-19T20:00:00Z", "Sorrel look, Fern unknown"},
		{"2026-05-17T18:00:00Z", "Sorrel look, Fern unknown"},
		{"2026-05-17T20:00:00Z", "Sorrel overdue, Fern unknown"},
		{"2026-07-02T20:00:00Z", "Sorrel unknown, Fern unknown"}, // another season
	} {
		if got := strings.Join(due(when(t, c[0])), ", "); got != c[1] {
			t.Errorf("on %s: %s, want %s", c[0], got, c[1])
		}
	}
}

func when(t *testing.T, s string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return at
}
