package station_test

import (
	"slices"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// byNight is the plan with a wanted band that is 3 K lower from 22:00 to 07:00.
func byNight(t *testing.T) plan.Plan {
	p := testPlan(t)
	day := p.Zones[0].Wanted
	day.Spells = []config.Spell{{From: 22 * time.Hour, To: 7 * time.Hour, Band: plan.Band{
		Low: ptr(19.2), High: ptr(21.4), Deadband: day.Deadband, OnDelay: day.OnDelay, OffDelay: day.OffDelay,
	}}}
	p.Zones[0].Safe = &plan.Band{Low: ptr(15), High: ptr(30), Deadband: 0.28}
	return p
}

// A room that follows its bands through the night alarms never; the change of the
// band at an hour is no alarm by itself, and one that stands is judged by the band
// in force.
func TestBandsByTheHour(t *testing.T) {
	b := newBench(t, byNight(t))
	at := began // 19:00
	run := func(hour float64, c float64) {
		for until := began.Add(time.Duration((hour - 19) * float64(time.Hour))); at.Before(until); at = at.Add(time.Minute) {
			b.observe(at, map[string]float64{"air": c, "dummy": c + 0.2, "warm": 27})
		}
	}
	bands := func() (events []string) {
		for _, e := range b.events {
			if e.Zone != nil && *e.Zone == "room" && e.Alarm != "drift-up" && e.Alarm != "drift-down" {
				events = append(events, e.At.Format("15:04 ")+e.Alarm+" "+e.To)
			}
		}
		b.events = nil
		return events
	}
	run(22, 23.3)
	if w := b.Now().Zones[0].Wanted; *w.High != 24.4 {
		t.Fatalf("by day up to %v is wanted, want 24.4", *w.High)
	}
	run(22+5.0/60, 23.3) // it cools within the on-delay
	run(31, 20.3)        // to 07:00
	if w := b.Now().Zones[0].Wanted; *w.High != 21.4 {
		t.Fatalf("by night up to %v is wanted, want 21.4", *w.High)
	}
	run(31+5.0/60, 20.3)
	run(46, 23.3) // to 22:00
	if got := bands(); len(got) != 0 {
		t.Fatalf("a room that follows its bands raised %q", got)
	}
	run(49, 23.3) // it does not cool at night: it has two hours for it
	if got, want := bands(), []string{"00:10 temperature-high active"}; !slices.Equal(got, want) {
		t.Errorf("a warm night: %q, want %q", got, want)
	}
	run(55.5, 23.3)
	if got, want := bands(), []string{"07:05 temperature-high returned"}; !slices.Equal(got, want) {
		t.Errorf("at the day's band: %q, want %q", got, want)
	}
	// A restart in the night goes on by the night's band.
	run(70.5, 23.3)
	run(71, 20.3)
	b.start(at)
	run(72, 20.3)
	if got := bands(); slices.ContainsFunc(got, func(e string) bool { return e == "00:00 temperature-low active" }) {
		t.Errorf("after a restart in the night: %q", got)
	}
	if w := b.Now().Zones[0].Wanted; *w.Low != 19.2 {
		t.Errorf("after a restart in the night from %v on is wanted, want 19.2", *w.Low)
	}
}

// Looking back, each band counts for as long as it was in force: a night at 20.3 is
// within the night's band, and an evening at 23.3 past its high end by 22:00.
func TestLookBackByTheHour(t *testing.T) {
	b := newBench(t, byNight(t))
	for at := began; at.Before(began.Add(14 * time.Hour)); at = at.Add(time.Minute) { // 19:00 to 09:00
		c := 23.3
		if h := at.Hour(); h == 23 || h < 7 {
			c = 20.3
		}
		b.observe(at, map[string]float64{"air": c, "dummy": c + 0.2, "warm": 27})
	}
	n, err := b.LookBack(t.Context(), began, began.Add(14*time.Hour), "room")
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range n.Zones[0].Past {
		want := 0.0
		if p.Band == "wanted" && p.Limit == 21.4 && p.Side == "warm" {
			want = 3600
		}
		if p.Of == "temperature" && (p.Seconds < want-200 || p.Seconds > want+200) {
			t.Errorf("past %s %s %v for %.0f s, want about %.0f", p.Band, p.Side, p.Limit, p.Seconds, want)
		}
	}
}
