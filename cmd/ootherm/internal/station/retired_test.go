package station_test

import (
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// An alarm that stands while its limit goes is told, once, and not as a return to
// order: whether anybody has seen it or not.
func TestALimitThatGoesIsTold(t *testing.T) {
	cold := map[string]float64{"air": 21, "dummy": 21.2, "warm": 27}
	for name, c := range map[string]struct {
		plan  func(*plan.Plan) // of the next start; nil: there is none
		note  string
		want  []string
		other bool // the alarm that goes is another's
	}{
		"a limit taken out of the configuration": {plan: func(p *plan.Plan) { b := *p.Zones[0].Wanted; b.Low = nil; p.Zones[0].Wanted = &b },
			want: []string{"◆ ROOM too cold: no longer watched", "It was too cold from 19:00.\n", "This is no return to order: the limit of 72.0 °F is no longer set, since the configuration, the book or the band in force changed before this start.", "Eggs here: 1 box, 3 eggs."}},
		"a zone taken out": {plan: func(p *plan.Plan) { p.Zones = p.Zones[1:] },
			want: []string{"◆ ROOM probes disagree: no longer watched, and one more", "◆ ROOM too cold: no longer watched (warning)", "since the configuration, the book or the band in force changed before this start", "Eggs here: 1 box, 3 eggs."}},
		"a band by the hour": {want: []string{"◆ ROOM too cold: no longer watched", "since another band is in force by the hour or the season", "It was too cold from 19:00, for 1 h, lowest 69.4 °F; the last was 69.8 °F."}},
		"the eggs are taken away": {note: `{"key":"z1","at":"2026-04-02T19:30:00Z","entry":"lost","egg":"S1-1"}
{"key":"z2","at":"2026-04-02T19:30:00Z","entry":"lost","egg":"S1-2"}
{"key":"z3","at":"2026-04-02T19:30:00Z","entry":"lost","egg":"T1-1"}
`, want: []string{"◆ ROOM too cold: no longer watched", "the limit of 68.0 °F is no longer set, since other eggs, or none, are there by the book.", "No eggs here by the book."}},
	} {
		for _, seen := range []bool{false, true} {
			p := testPlan(t)
			if name == "a band by the hour" {
				p = nightly(t)
			}
			p.Zones[0].Apart = 3
			b := newBench(t, p)
			b.note(season)
			at := began
			run := func(minutes int) {
				for range minutes {
					r := map[string]float64{"air": cold["air"], "dummy": cold["dummy"] + 0.2, "warm": 27}
					if c.note != "" {
						r["air"], r["dummy"] = 19, 19.4
					}
					if name == "a zone taken out" {
						r["dummy"] += 3.1
					}
					if at.Sub(began) < 20*time.Minute && c.note == "" {
						r["air"] -= 0.2
					}
					b.observe(at, r)
					at = at.Add(time.Minute)
				}
			}
			switch name {
			case "a zone taken out":
				run(70)
			default:
				run(31)
			}
			if seen {
				b.act(panel.Action{Do: "acknowledge", Zone: "room"})
			}
			n := len(b.waiting())
			if c.plan != nil {
				b.options.Plan = *clone(b.options.Plan, c.plan)
				b.start(at)
			}
			if c.note != "" {
				b.note(c.note)
			}
			run(45)
			b.start(at)
			var told []alert.Message
			for _, m := range b.waiting()[n:] {
				if strings.Contains(m.Subject, "no longer watched") {
					told = append(told, m)
				}
				if strings.Contains(m.Subject, "back in order") {
					t.Errorf("%s, seen %t: %s", name, seen, m.Subject)
				}
			}
			if len(told) != 1 || !told[0].Over || told[0].Priority == alert.Notice {
				t.Errorf("%s, seen %t: told %v, want one that is an end: %v", name, seen, subjects(told), subjects(b.waiting()))
				continue
			}
			for _, want := range c.want {
				if !strings.Contains(told[0].Subject+"\n"+told[0].Body, want) {
					t.Errorf("%s, seen %t: it lacks %q:\n%s", name, seen, want, told[0].Body)
				}
			}
		}
	}
}

func clone(p plan.Plan, change func(*plan.Plan)) *plan.Plan {
	p.Zones = append([]plan.Zone{}, p.Zones...)
	change(&p)
	return &p
}

// What a person has put aside goes without a word, and so does what was over before.
func TestALimitThatGoesIsNotToldOfWhatIsPutAside(t *testing.T) {
	for name, do := range map[string]func(b *bench, at time.Time){
		"quiet": func(b *bench, at time.Time) {
			b.act(panel.Action{Do: "shelve", Zone: "room", Until: at.Add(time.Hour)})
		},
		"switched off": func(b *bench, _ time.Time) { b.act(panel.Action{Do: "out-of-service", Zone: "room"}) },
		"over, and not yet seen": func(b *bench, at time.Time) {
			for i := range 10 {
				b.observe(at.Add(time.Duration(i)*time.Minute), map[string]float64{"air": 23.3, "dummy": 23.3, "warm": 27})
			}
		},
	} {
		b := newBench(t, testPlan(t))
		at := began
		for range 30 {
			b.observe(at, map[string]float64{"air": 21, "dummy": 21, "warm": 27})
			at = at.Add(time.Minute)
		}
		do(b, at)
		n := len(b.waiting())
		b.options.Plan = *clone(b.options.Plan, func(p *plan.Plan) { p.Zones = p.Zones[1:] })
		b.start(at.Add(10 * time.Minute))
		if got := b.waiting()[n:]; len(got) != 0 {
			t.Errorf("%s: told %v", name, subjects(got))
		}
	}
}
