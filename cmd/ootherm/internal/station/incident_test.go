package station_test

import (
	"math"
	"path/filepath"
	"testing"
	"time"

	"example.com/ootherm/alert/alertlog"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal"
	bolt "go.etcd.io/bbolt"
)

func openAlarmLog(t *testing.T) *alertlog.Store {
	t.Helper()
	db, err := bolt.Open(filepath.Join(t.TempDir(), "records.db"), 0o600, &bolt.Options{Timeout: time.Second})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = db.Close() })
	s, err := alertlog.Open(db)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Eight days as wanted, four hours far too warm, two hours of nothing, and as
// wanted again: the report finds all of it, and what it did to the eggs is what
// the model says of four hours at that heat.
func TestIncident(t *testing.T) {
	t.Parallel()
	b := newBench(t, testPlan(t))
	b.options.AlarmLog, b.options.ForecastEvery = openAlarmLog(t), time.Hour
	b.start(began)
	b.note(season)
	const day = 24 * 60
	hot, gone, back := 8*day, 8*day+240, 8*day+360 // minutes
	at := func(minute int) time.Time { return began.Add(time.Duration(minute) * time.Minute) }
	course := func(m int) float64 { // half an hour up to 29.3, no faster than air can
		if m < hot || m >= gone {
			return 23.3
		}
		return 23.3 + min(6, 0.2*float64(m-hot))
	}
	for m := 1; m <= 10*day; m++ {
		if m >= gone && m < back {
			continue
		}
		c := course(m)
		b.observe(at(m), map[string]float64{"air": c, "dummy": c + 0.2, "warm": 27}) // the dummy's offset is -0.2
		if m != hot+60 {
			continue
		}
		n, err := b.LookBack(t.Context(), at(hot-60), at(m), "room")
		if err != nil {
			t.Fatal(err)
		}
		if len(n.Alarms) == 0 {
			t.Error("no alarm stands")
		}
		for _, a := range n.Alarms {
			if a.Alarm == "temperature-high" && (a.Ended != nil || a.Peak == nil || math.Abs(*a.Peak-29.3) > 1e-9) {
				t.Errorf("the alarm that stands is %+v, want its worst so far, 29.3", a)
			}
		}
	}
	n, err := b.LookBack(t.Context(), at(hot-60), at(back+60), "")
	if err != nil {
		t.Fatal(err)
	}
	if len(n.Zones) != 2 {
		t.Fatalf("%d zones", len(n.Zones))
	}
	room := n.Zones[0]
	if room.Highest == nil || math.Abs(room.Highest.Value-29.3) > 1e-9 || !room.Highest.At.Equal(at(hot+30)) || room.Lowest == nil || math.Abs(room.Lowest.Value-23.3) > 1e-9 {
		t.Errorf("the room's extremes are %+v and %+v", room.Highest, room.Lowest)
	}
	if len(room.Gaps) != 1 || !room.Gaps[0].From.Equal(at(gone-1)) || !room.Gaps[0].To.Equal(at(back)) || room.Missing != 121*60 {
		t.Errorf("not measured: %+v, %.0f s", room.Gaps, room.Missing)
	}
	past := map[string]snapshot.Past{}
	for _, p := range room.Past {
		past[p.Band+" "+p.Side] = p
	}
	// From five and a half minutes on the way up to the last of the hot ones; behind
	// it nothing was measured.
	want := (239 - 5.5) * 60
	if p := past["wanted warm"]; math.Abs(p.Seconds-want) > 0.1 || p.Events != 1 || math.Abs(p.Most-4.9) > 1e-9 {
		t.Errorf("past the wanted %+v, want %.1f s and 4.9 K", p, want)
	}
	if p := past["safe warm"]; !(p.Limit == 26.7 && math.Abs(p.Seconds-(239-17)*60) < 0.1) {
		t.Errorf("past the safe %+v, of the crested gecko's eggs in the room", p)
	}
	if p, there := past["wanted cold"]; !there || p.Seconds != 0 {
		t.Errorf("a limit that was not passed: %+v", p)
	}
	kinds := map[string]snapshot.PastAlarm{}
	for _, a := range n.Alarms {
		kinds[a.Alarm+" "+a.Priority] = a
	}
	a, ok := kinds["temperature-high warning"]
	if !ok || !a.Began.Equal(at(hot+6)) || !a.Raised.Equal(at(hot+16)) || a.Ended == nil || a.Ended.Before(at(back)) || a.Peak == nil || math.Abs(*a.Peak-29.3) > 1e-9 {
		t.Errorf("the alarm is %+v (%d in all)", a, len(n.Alarms))
	}
	if len(n.Clutches) != 2 {
		t.Fatalf("%d clutches felt it: %+v", len(n.Clutches), n.Clutches)
	}
	c := n.Clutches[0]
	var rate thermal.Rate
	for _, x := range b.options.Plan.Profiles {
		if x.Name == "crested gecko" {
			belief, err := x.Belief()
			if err != nil {
				t.Fatal(err)
			}
			rate = belief.Model()
		}
	}
	// What the model says of each minute, the hole bridged from both its sides.
	share := 0.0
	for m := hot; m < gone-1; m++ {
		share += (rate.PerDay(course(m)) + rate.PerDay(course(m+1))) / 2 / day
	}
	share += 121 * (rate.PerDay(29.3) + rate.PerDay(23.3)) / 2 / day
	days := 360.0/day - share/rate.PerDay(23.3)
	if c.Moved == nil || math.Abs(*c.Moved-days) > 0.005 || !(days < -0.05) {
		t.Errorf("it moved the hatch by %v d, want %.3f", *c.Moved, days)
	}
	if c.Eggs != 2 || c.Developed == nil || !(*c.Developed > 0.05 && *c.Developed < 0.12) || c.Usual == nil || math.Abs(*c.Usual-23.3) > 0.01 || c.Missing != 121*60 {
		t.Errorf("the clutch is %+v", c)
	}
	if c.Before == nil || c.After == nil || c.Before.Day != "2026-04-10" || c.After.Day != "2026-04-12" || !c.After.Window.Likely.Before(c.Before.Window.Likely) {
		t.Errorf("windows shown: %+v, %+v", c.Before, c.After)
	}

	// Of one zone, the others' eggs are left out.
	if n, err := b.LookBack(t.Context(), at(hot-60), at(back+60), "incubator"); err != nil || len(n.Zones) != 1 || len(n.Clutches) != 0 {
		t.Errorf("of the incubator: %+v, %v", n, err)
	}
	for what, span := range map[string][3]any{
		"a span that ends before it begins": {at(10), at(5), ""},
		"a span to come":                    {at(11 * day), at(12 * day), ""},
		"a span of a season":                {at(0).AddDate(0, -6, 0), at(10 * day), ""},
		"a zone that is not there":          {at(0), at(10), "attic"},
	} {
		if _, err := b.LookBack(t.Context(), span[0].(time.Time), span[1].(time.Time), span[2].(string)); err == nil {
			t.Errorf("%s was taken", what)
		}
	}
}

// What a clutch took is set beside what its own heat says: a warm one that
// hatched early took as long as it should; one that took an eighth longer than
// its heat says is told so, whatever the house taught.
func TestPaces(t *testing.T) {
	b := hourly(t, quick())
	b.windowsDaily()
	b.note(dam("Quill", "quick"))
	b.note(layEggs(0, "Q1", "Quill", "quick", 2) + layEggs(0, "Q2", "Quill", "quick", 2))
	b.live(0, 22*24+13, steady(23.3))
	b.note(hatched(22*24+12, "Q1", 1) + hatched(22*24+12, "Q1", 2) + hatched(22*24+12, "Q2", 1))
	durations := b.Queries().Durations()
	p, ok := durations["Q1"]
	if !ok || math.Abs(p.Days-22.5) > 1e-6 || math.Abs(p.Expected-20) > 0.5 || !(p.SD > 0.04 && p.SD < 0.1) || p.Implausible {
		t.Errorf("Q1 took %+v, want 22.5 days beside 20", p)
	}
	if _, ok := durations["Q2"]; ok {
		t.Error("a clutch of which one egg waits is counted: the quick ones hatch first")
	}
	// The next one is warm all its time, and hatches when that says.
	rate := 0.0
	quickest, err := quick().Belief()
	if err != nil {
		t.Fatal(err)
	}
	rate = quickest.Model().PerDay(25.3)
	hours := int(math.Round(24 / rate))
	from := 22*24 + 12
	b.note(layEggs(from, "Q3", "Quill", "quick", 1))
	b.live(from+1, from+hours+1, steady(25.3))
	b.note(hatched(from+hours, "Q3", 1))
	if p := b.Queries().Durations()["Q3"]; !(p.Days < 18) || math.Abs(p.LogRatio()) > 0.01 {
		t.Errorf("the warm one took %+v, want as long as its heat says", p)
	}
}
