package station_test

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/station/journal"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/book/ledger"
	"example.com/ootherm/thermal/forecastlog/forecastlogtest"
	"example.com/ootherm/thermal/profile"
)

var began = time.Date(2026, 4, 2, 19, 0, 0, 0, time.UTC)

// bench is a station on memory stores that a test steps by hand.
type bench struct {
	*station.Station
	t       *testing.T
	options station.Options
	events  []snapshot.Event
}

func ptr(v float64) *float64 { return &v }

// testPlan is a room with two probes and an incubator with one.
func testPlan(t *testing.T) plan.Plan {
	t.Helper()
	species, err := profile.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	return plan.Plan{
		Name: "egg room", Units: words.Fahrenheit, Location: time.UTC, Every: time.Minute, Flush: 5 * time.Minute,
		Probes: []plan.Probe{{Name: "air"}, {Name: "dummy", Offset: -0.2}, {Name: "warm"}},
		Zones: []plan.Zone{
			{Name: "room", Kind: "room", Probes: []string{"air", "dummy"}, Wanted: &plan.Band{
				Low: ptr(22.2), High: ptr(24.4), Deadband: 0.28, OnDelay: 10 * time.Minute, OffDelay: 5 * time.Minute,
			}},
			{Name: "incubator", Kind: "incubator", Probes: []string{"warm"}, SetPoint: ptr(27)},
		},
		Senders:  []plan.Sender{{Name: "mail"}},
		Profiles: species,
	}
}

func newBench(t *testing.T, p plan.Plan) *bench {
	t.Helper()
	b := &bench{t: t, options: station.Options{
		Plan: p, ForecastEvery: 10 * time.Minute,
		Stores: station.Stores{
			History: history.Memory(history.Options{GapLimit: max(10*time.Minute, 2*p.Every)}), Ledger: ledger.Memory(), Journal: outbox.NewMemory(), Shown: forecastlogtest.Open(t),
		},
	}}
	boot, err := b.options.History.(*history.Store).Begin("one", began, 0, true)
	if err != nil {
		t.Fatal(err)
	}
	b.options.Boot = boot
	b.options.OnEvent = func(e snapshot.Event) { b.events = append(b.events, e) }
	b.start(began)
	return b
}

// windowsDaily has windows computed once a day and after each entry, which is ten times as fast.
func (b *bench) windowsDaily() {
	b.t.Helper()
	b.options.ForecastEvery = 24 * time.Hour
	b.start(began)
}

// start makes a station of what the stores hold, as after a restart.
func (b *bench) start(at time.Time) {
	b.t.Helper()
	var err error
	if b.Station, err = station.New(b.t.Context(), b.options, at); err != nil {
		b.t.Fatal(err)
	}
}

// observe gives the station one reading of each probe named.
func (b *bench) observe(at time.Time, celsius map[string]float64) {
	b.t.Helper()
	var all []sensor.Reading
	for probe, c := range celsius {
		all = append(all, sensor.Reading{
			Probe: probe, Stamp: sensor.Stamp{Boot: b.options.Boot.Number, Uptime: at.Sub(began)},
			Measurement: sensor.Measurement{Celsius: c, Humidity: math.NaN()},
		})
	}
	if err := b.Observe(b.t.Context(), all); err != nil {
		b.t.Fatal(err)
	}
}

func (b *bench) note(lines string) {
	b.t.Helper()
	all, err := book.ReadAll(strings.NewReader(lines))
	if err == nil {
		_, err = b.Note(b.t.Context(), book.NewDraft(all...))
	}
	if err != nil {
		b.t.Fatal(err)
	}
}

// air is a day's course, a little different at each probe.
func air(at time.Time) map[string]float64 {
	day := 2 * math.Pi * at.Sub(began).Hours() / 24
	return map[string]float64{
		"air": 23.3 + 0.6*math.Sin(day), "dummy": 23.6 + 0.4*math.Sin(day-0.5), "warm": 27 + 0.2*math.Sin(5*day),
	}
}

const season = `{"key":"a1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"a2","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Tansy","profile":"crested gecko"}
{"key":"a3","at":"2026-04-02T19:00:00Z","entry":"box","box":"B1","zone":"room"}
{"key":"a4","at":"2026-04-02T19:00:00Z","entry":"box","box":"B2","zone":"room","probe":"dummy"}
{"key":"a5","at":"2026-04-02T19:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":2,"laid_after":"2026-04-01T19:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
{"key":"a6","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
{"key":"a7","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"S1-2","box":"B1","slot":"b"}
{"key":"a8","at":"2026-04-02T19:00:00Z","entry":"clutch","clutch":"T1","dam":"Tansy","eggs":1,"laid_after":"2026-04-02T19:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
{"key":"a9","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"T1-1","box":"B1","slot":"c"}
`

const second = `{"key":"b1","at":"2026-04-07T19:00:00Z","entry":"clutch","clutch":"S2","dam":"Sorrel","eggs":1,"laid_after":"2026-04-06T19:00:00Z","laid_by":"2026-04-07T19:00:00Z"}
{"key":"b2","at":"2026-04-07T19:00:00Z","entry":"placed","egg":"S2-1","box":"B1","slot":"d"}
`

const moved = `{"key":"c1","at":"2026-04-10T07:30:30Z","entry":"moved","box":"B1","zone":"incubator","probe":"warm"}
`

// A box with three clutches of two dams, moved mid-way: what was integrated as it
// happened is what a restart rebuilds from the history, gaps and refused readings
// and a back-dated move included.
func TestRebuiltExposureIsTheLiveOne(t *testing.T) {
	t.Parallel()
	b := newBench(t, testPlan(t))
	b.windowsDaily()
	b.note(season)
	at := began
	run := func(until time.Duration) {
		for ; at.Before(began.Add(until)); at = at.Add(time.Minute) {
			since := at.Sub(began)
			if since > 60*time.Hour && since < 62*time.Hour { // no power
				continue
			}
			c := air(at)
			if since > 90*time.Hour && since < 95*time.Hour { // one probe is unplugged
				delete(c, "dummy")
			}
			if since > 100*time.Hour && since < 102*time.Hour { // it comes back at odds with its neighbour
				c["dummy"] += 6
			}
			if since%(7*time.Hour) == 0 { // and now and then it lies
				c["air"] = math.Inf(1)
			}
			b.observe(at, c)
		}
	}
	run(5 * 24 * time.Hour)
	b.observe(at, air(at))
	at = at.Add(time.Minute)
	b.note(second)
	run(9 * 24 * time.Hour)
	b.note(moved) // back-dated: it happened half a day ago
	run(14 * 24 * time.Hour)
	if err := b.Tick(t.Context(), at); err != nil {
		t.Fatal(err)
	}
	b.note(`{"key":"d1","at":"2026-04-16T18:59:00Z","entry":"note","about":"B1","text":"an entry has the windows computed again"}` + "\n")
	live := b.Now()
	b.start(at)
	rebuilt := b.Now()
	if len(live.Boxes) != 2 || len(live.Boxes[0].Clutches) != 3 {
		t.Fatalf("boxes are %+v, want B1 with three clutches and B2", live.Boxes)
	}
	for i, c := range live.Boxes[0].Clutches {
		d := rebuilt.Boxes[0].Clutches[i]
		for _, x := range []struct {
			what          string
			live, rebuilt *float64
		}{
			{"developed", c.Developed, d.Developed}, {"observed", c.Observed, d.Observed},
			{"degree-days", &c.DegreeDays.SoFar, &d.DegreeDays.SoFar}, {"measured degree-days", &c.DegreeDays.Measured, &d.DegreeDays.Measured},
			{"equivalent", c.EquivalentCelsius, d.EquivalentCelsius},
		} {
			if x.live == nil || x.rebuilt == nil || math.Abs(*x.live-*x.rebuilt) > 1e-6*math.Abs(*x.live) {
				t.Errorf("%s of %s: live %v, rebuilt %v", x.what, c.Clutch, deref(x.live), deref(x.rebuilt))
			}
		}
		if *c.Observed > 0.999 || *c.Observed < 0.85 {
			t.Errorf("%s was measured %.4f of the time, want less than all: the power was off for two hours", c.Clutch, *c.Observed)
		}
	}
	if box := live.Boxes[0]; box.Zone != "incubator" || box.Probe == nil || *box.Probe != "warm" {
		t.Errorf("B1 is in %s under %v, want the incubator under warm", box.Zone, box.Probe)
	}
}

func deref(p *float64) any {
	if p == nil {
		return nil
	}
	return *p
}

// The room cools: a warning after its on-delay, from the worst of the two probes,
// and one message that says what, where, how far, since when and how fast.
func TestColdRoomIsTold(t *testing.T) {
	p := testPlan(t)
	p.Zones[0].Apart = 3 // K, the default
	p.URL = "http://eggroom.local:8080/"
	b := newBench(t, p)
	b.note(season)
	at := began
	for ; at.Before(began.Add(7 * time.Hour)); at = at.Add(time.Minute) {
		cooled := max(0, at.Sub(began).Hours()-4) * 1.5
		b.observe(at, map[string]float64{"air": 23.3 - cooled, "dummy": 23.9 - cooled, "warm": 27})
	}
	var raised []snapshot.Event
	for _, e := range b.events {
		if e.To == "active" && e.Alarm == "temperature-low" {
			raised = append(raised, e)
		}
	}
	if len(raised) != 2 || raised[0].Alarm != "temperature-low" || raised[0].Priority != "warning" || raised[1].Priority != "critical" {
		t.Fatalf("raised %+v, want the wanted band's warning and then the species' safe band", raised)
	}
	// 22.2 C is passed 44 minutes after the fourth hour; ten minutes later it is an alarm.
	if got, want := raised[0].At, began.Add(4*time.Hour+54*time.Minute); got.Sub(want).Abs() > time.Minute {
		t.Errorf("raised at %v, want %v", got, want)
	}
	waiting, err := b.options.Journal.Waiting(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if len(waiting) != 3 {
		t.Fatalf("%d messages wait, want the drift's, that of the safe limit to come, and the critical one: %+v", len(waiting), waiting)
	}
	drift, m, critical := waiting[0], waiting[1], waiting[2]
	if early := m.At.Sub(drift.At); early < 30*time.Minute {
		t.Errorf("the drift was told %v before the safe limit was near, want half an hour", early)
	}
	for _, part := range []string{"▼ ROOM getting too cold: 72.0 °F ", "falling ", "72.0 °F about ", " (23:", "; now 73.", "that the heater runs"} {
		if !strings.Contains(drift.Body, part) {
			t.Errorf("the drift's message lacks %q:\n%s", part, drift.Body)
		}
	}
	if part := "level and unturned, to a room at 72.0-75.9 °F."; !strings.Contains(critical.Body, part) {
		t.Errorf("the critical message lacks %q:\n%s", part, critical.Body)
	}
	for _, part := range []string{"▼ CRITICAL ROOM too cold in 1 h ", "Critical: go now, 1 h ", " min left.", " (limit 68.0, now 71.", "Since 2 April 23:44 (20 min).", "falling 2.", "Eggs here: 1 box, 3 eggs. Box B1.", "Second probe (", "(agrees)", "First: ", "Next message if it passes 68.0 °F, or in 6 h", "Safe limit: 68.0 °F about 01:", "), in 1 h ",
		"To say that you saw it: http://eggroom.local:8080/alarm?key=temperature-low.warning%2Froom (works only at home)"} {
		if !strings.Contains(m.Body, part) {
			t.Errorf("the message lacks %q:\n%s", part, m.Body)
		}
	}
	// What was foretold at 00:04, against when the safe limit was reached: ten minutes
	// before its alarm.
	_, said, _ := strings.Cut(m.Body, "68.0 °F about ")
	if len(said) < 19 {
		t.Fatalf("the warning does not say when it is 68 °F:\n%s", m.Body)
	}
	if reached := raised[1].At.Add(-10 * time.Minute).Format("15:04"); reached < said[7:12] || reached > said[13:18] {
		t.Errorf("68 °F was reached at %s; the warning said %s", reached, said[:19])
	}
	for _, a := range b.Now().Alarms {
		if a.Priority == "warning" && a.Alarm == "temperature-low" && a.Coming != nil {
			t.Errorf("past the safe limit the warning still says it comes %+v", a.Coming)
		}
	}
	if n := len([]rune(m.Subject)); n > 70 || !strings.HasPrefix(m.Subject, "▼ CRITICAL ROOM too cold in 1 h ") {
		t.Errorf("subject %q", m.Subject)
	}
}

// Two bad entries of a file are both told, and nothing of the file is kept.
func TestBadEntriesAreAllTold(t *testing.T) {
	b := newBench(t, testPlan(t))
	all, err := book.ReadAll(strings.NewReader(season +
		`{"key":"x1","at":"2026-04-02T19:00:00Z","entry":"box","box":"B9","zone":"attic"}
{"key":"x2","at":"2026-04-02T19:00:00Z","entry":"placed","egg":"Z9-1","box":"B1","slot":"f"}
`))
	if err != nil {
		t.Fatal(err)
	}
	_, err = b.Note(t.Context(), book.NewDraft(all...))
	if err == nil || !strings.Contains(err.Error(), "x1") || !strings.Contains(err.Error(), "x2") {
		t.Errorf("got %v, want both x1 and x2", err)
	}
	if n := len(b.Book().Clutches()); n != 0 {
		t.Errorf("%d clutches are in the book, want none of the file", n)
	}
}

// worn is a journal whose card takes nothing while it is full.
type worn struct {
	journal.Store
	full bool
}

func (w *worn) Commit(ctx context.Context, a []alert.Alarm, m []alert.Message) error {
	if w.full {
		return errors.New("no space left")
	}
	return w.Store.Commit(ctx, a, m)
}

// On a full card an alarm is handed on once to be sent from memory, and is
// written when there is room again.
func TestFullCardStillTells(t *testing.T) {
	b := newBench(t, testPlan(t))
	card := &worn{Store: b.options.Journal}
	var urgent []string
	b.options.Journal = card
	b.options.Urgent = func(_ []alert.Alarm, messages []alert.Message) {
		for _, m := range messages {
			urgent = append(urgent, m.Alarm)
		}
	}
	b.start(began)
	card.full = true
	at := began
	for ; at.Before(began.Add(30 * time.Minute)); at = at.Add(time.Minute) {
		readings := []sensor.Reading{{Probe: "air", Stamp: sensor.Stamp{Boot: b.options.Boot.Number, Uptime: at.Sub(began)},
			Measurement: sensor.Measurement{Celsius: 18, Humidity: math.NaN()}}}
		_ = b.Observe(t.Context(), readings) // that the card is full is its error each time
	}
	cold := 0
	for _, key := range urgent {
		if key == "temperature-low.warning/room" {
			cold++
		}
	}
	if cold != 1 {
		t.Errorf("handed on: %v, want the cold room once", urgent)
	}
	card.full = false
	if err := b.Tick(t.Context(), at); err != nil {
		t.Fatal(err)
	}
	waiting, err := card.Waiting(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range waiting {
		if m.Alarm == "temperature-low.warning/room" {
			return
		}
	}
	t.Errorf("with room again %d messages are written, the cold room's is not among them", len(waiting))
}
