package station_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/sensor"
	moistair "example.com/ootherm/sensor/air"
)

// wetRoom is a room whose humidity can be set, with box B1, which loses water by the deficit of
// the air, at the settings that production uses.
type wetRoom struct {
	*bench
	at       time.Time
	humidity float64 // as a ratio; NaN: the probe gives none
	grams    float64 // that B1 weighs in truth
	lost     float64 // of its water since it was last topped up
	loss     float64 // g per kPa h
	entries  int
}

// A box of 40 g of water that loses 1 g a day at 50 % and 23.3 C.
func newWetRoom(t *testing.T, p plan.Plan) *wetRoom {
	r := &wetRoom{bench: newBench(t, p), at: began, humidity: 0.5, grams: 112}
	r.options.ForecastEvery = 24 * time.Hour // the windows are no part of it
	r.start(began)
	r.loss = 1 / (24 * moistair.Deficit(23.3, 0.5) / 1000)
	r.note(wet)
	return r
}

func (r *wetRoom) run(d time.Duration) {
	r.t.Helper()
	const step = 10 * time.Minute
	for end := r.at.Add(d); r.at.Before(end); r.at = r.at.Add(step) {
		r.observeMoist(r.at, 23.3, r.humidity)
		truth := r.humidity
		if math.IsNaN(truth) {
			truth = 0.5
		}
		g := r.loss * moistair.Deficit(23.3, truth) / 1000 * step.Hours()
		r.grams, r.lost = r.grams-g, r.lost+g
	}
}

func (b *bench) observeMoist(at time.Time, celsius, humidity float64) {
	b.t.Helper()
	var all []sensor.Reading
	for _, probe := range []string{"air", "dummy", "warm"} {
		m := sensor.Measurement{Celsius: celsius, Humidity: math.NaN()}
		switch probe {
		case "air":
			m.Humidity = humidity
		case "warm":
			m.Celsius = 27
		}
		all = append(all, sensor.Reading{Probe: probe, Measurement: m, Stamp: sensor.Stamp{Boot: b.options.Boot.Number, Uptime: at.Sub(b.options.Boot.Start)}})
	}
	if err := b.Observe(b.t.Context(), all); err != nil {
		b.t.Fatal(err)
	}
}

// weigh notes what the scale shows, and the water that is poured in then, in grams.
func (r *wetRoom) weigh(scaleErrorG, poured float64) {
	r.entries++
	r.note(weighed(r.entries, r.at, "B1", math.Round(r.grams+scaleErrorG), poured))
	r.grams, r.lost = r.grams+poured, r.lost-poured
}

func (r *wetRoom) told() (all []alert.Message) {
	for _, m := range r.waiting() {
		if strings.HasPrefix(m.Alarm, "drying.") {
			all = append(all, m)
		}
	}
	return all
}

// learn weighs and tops up weekly, three times.
func (r *wetRoom) learn() {
	for i := range 3 {
		r.run(7 * 24 * time.Hour)
		r.weigh([]float64{0.4, -0.6, 0.5}[i], 7)
	}
}

// timed are messages with the times at which they were sent.
func timed(all []alert.Message) (said []string) {
	for _, m := range all {
		said = append(said, m.At.Format("01-02 15:04 ")+m.Subject)
	}
	return said
}

const dryWeek = 7 * 24 * time.Hour

// The room gets dry, and nobody weighs: the box is called by what is computed, near to when a
// weighing would show a fifth gone for certain. A kill and a restart at any hour change nothing.
func TestABoxThatDriesIsForetold(t *testing.T) {
	var first []string
	for _, restarts := range []bool{false, true} {
		t.Run(fmt.Sprintf("restarts %v", restarts), func(t *testing.T) {
			r := newWetRoom(t, testPlan(t))
			r.learn()
			if n := len(r.told()); n != 0 {
				t.Fatalf("%d messages of a box that is topped up", n)
			}
			d := r.box("B1").Medium.Drying
			if d == nil || math.Abs(d.Loses/r.loss-1) > 0.1 || d.LosesLow > r.loss || d.LosesHigh < r.loss || d.Spans != 3 {
				t.Fatalf("learned %+v, want a loss of %g", d, r.loss)
			}
			is(t, "lost since it was weighed a moment ago", d.Lost, 0)

			r.humidity = 0.3 // 1.4 times the deficit
			called := math.NaN()
			for range 14 * 24 {
				r.run(time.Hour)
				if restarts && r.at.Hour()%5 == 0 {
					r.start(r.at)
				}
				if math.IsNaN(called) && len(r.told()) > 0 {
					called = r.lost / 40
				}
			}
			// A weighing calls from 9 g: 8 for certain, since the scale may be 1 g off.
			if !(called > 0.18 && called < 0.28) {
				t.Errorf("called at %.3f of the water, want about 0.225", called)
			}
			all := r.told()
			m := all[0]
			if want := "◆ BOX B1 probably drying out: weigh it"; m.Subject != want {
				t.Errorf("the subject is %q, want %q", m.Subject, want)
			}
			for _, want := range []string{"when it was last weighed or watered, it has probably lost ", "of what it began with is probably gone", "This is computed", "Only weighing shows it", "First: Weigh the box"} {
				if !strings.Contains(m.Body, want) {
					t.Errorf("no %q in\n%s", want, m.Body)
				}
			}
			last := all[len(all)-1]
			i := slices.IndexFunc(r.Now().Alarms, func(a snapshot.Alarm) bool { return a.Key == last.Alarm })
			if first := r.Now().Alarms[i].First; first == "" || !strings.Contains(last.Body, "First: "+first+"\n") {
				t.Errorf("the alarm's page says %q first, the message\n%s", first, last.Body)
			}
			if m.Priority == alert.Critical {
				t.Error("it is critical")
			}
			if restarts {
				if got := fmt.Sprint(timed(all)); got != fmt.Sprint(first) {
					t.Errorf("with restarts: %s, without: %s", got, first)
				}
			} else {
				first = timed(all)
				t.Logf("called at %.3f; %v", called, first)
			}

			// It is weighed and topped up: it begins again.
			r.weigh(0, 16)
			r.run(5 * time.Hour)
			for _, a := range r.Now().Alarms {
				if a.Alarm == "drying" && a.State == "active" {
					t.Errorf("after it was watered %s is %s", a.Key, a.State)
				}
			}
			d = r.box("B1").Medium.Drying
			if d == nil || d.Lost == nil || *d.Lost > 0.4 {
				t.Errorf("after it was watered it lost %v", d)
			}
		})
	}
}

// A box that loses no more than it did, and is topped up weekly, calls nobody; nor does one
// whose air has no humidity, which foretells nothing.
func TestABoxThatKeepsItsWaterIsNotForetold(t *testing.T) {
	r := newWetRoom(t, testPlan(t))
	r.learn()
	for range 2 {
		r.run(dryWeek)
		r.weigh(0, 7)
	}
	if n := len(r.told()); n != 0 {
		t.Errorf("%d messages of a box that is topped up", n)
	}

	r = newWetRoom(t, testPlan(t))
	r.humidity = math.NaN()
	r.learn()
	r.run(2 * dryWeek)
	if d := r.box("B1").Medium.Drying; d != nil || len(r.told()) != 0 {
		t.Errorf("without humidity: %+v, %v", d, subjects(r.told()))
	}

	r = newWetRoom(t, testPlan(t))
	r.run(dryWeek)
	r.weigh(0, 0)
	r.run(3 * dryWeek)
	if d := r.box("B1").Medium.Drying; d != nil || len(r.told()) != 0 {
		t.Errorf("weighed once: %+v, %v", d, subjects(r.told()))
	}
}

// The humidity breaks after the box was called: what is not known ends nothing, until it is
// weighed.
func TestAForetoldBoxStaysCalledWithoutHumidity(t *testing.T) {
	r := newWetRoom(t, testPlan(t))
	r.learn()
	r.run(12 * 24 * time.Hour)
	if n := len(r.told()); n != 1 {
		t.Fatalf("%d messages, want the call", n)
	}
	r.humidity = math.NaN()
	r.run(4 * 24 * time.Hour)
	if d := r.box("B1").Medium.Drying; d == nil || d.Lost != nil || d.Now != nil {
		t.Errorf("without humidity it foretells %+v", d)
	}
	if all := r.told(); len(all) != 1 {
		t.Errorf("told %v, want no more", subjects(all))
	}
	r.weigh(0, 16)
	r.run(2 * time.Hour)
	for _, a := range r.Now().Alarms {
		if a.Alarm == "drying" && a.State == "active" {
			t.Errorf("after it was watered %s is %s", a.Key, a.State)
		}
	}
}

// Air that gets much drier is told once, for all boxes of the room; not where the humidity has
// an alarm of its own.
func TestAirThatDriesFastIsToldOnce(t *testing.T) {
	for _, banded := range []bool{false, true} {
		t.Run(fmt.Sprintf("humidity band %v", banded), func(t *testing.T) {
			p := testPlan(t)
			if banded {
				p.Zones[0].Humidity = &plan.Band{Low: ptr(0.4), High: ptr(0.95), Deadband: 0.02, OnDelay: 30 * time.Minute, OffDelay: 10 * time.Minute}
			}
			r := newWetRoom(t, p)
			r.humidity, r.loss = 0.7, r.loss*0.5/0.3
			r.learn()
			r.humidity = 0.3 // 2.3 times the deficit
			var when time.Duration
			for range 4 * 24 {
				r.run(time.Hour)
				if when += time.Hour; len(r.told()) > 0 {
					break
				}
			}
			r.run(2 * 24 * time.Hour)
			r.humidity = 0.7
			r.run(5 * 24 * time.Hour)
			for _, a := range r.Now().Alarms {
				if a.Key == "drying.notice/room" {
					t.Errorf("days after the air was as before: %+v", a)
				}
			}
			fast := 0
			for _, m := range r.told() {
				if strings.Contains(m.Alarm, "/room") {
					fast++
					if want := "◆ ROOM boxes dry 2."; !strings.HasPrefix(m.Subject, want) || !strings.Contains(m.Body, "The air takes more water from the boxes than before") || !strings.Contains(m.Body, "box B1 ") || !strings.Contains(m.Body, "usually 0.9") {
						t.Errorf("%s\n%s", m.Subject, m.Body)
					}
				}
			}
			if want := map[bool]int{false: 1, true: 0}[banded]; fast != want {
				t.Errorf("told %d times, want %d: %v", fast, want, subjects(r.told()))
			}
			if !banded && (when < 12*time.Hour || when > 26*time.Hour) {
				t.Errorf("told after %v, want within a day", when)
			}
		})
	}
}

// After a restart the air is read beside the station: until it is known, an alarm that was
// computed stands.
func TestAForetoldBoxStaysCalledWhileTheAirIsRead(t *testing.T) {
	r := newWetRoom(t, testPlan(t))
	r.learn()
	r.run(12 * 24 * time.Hour)
	var jobs []func() func()
	r.options.Worker = func(job func() func()) { jobs = append(jobs, job) }
	r.start(r.at)
	r.run(3 * time.Hour)
	standing := func() (n int) {
		for _, a := range r.Now().Alarms {
			if a.Key == "drying.notice/box:B1" && a.State == "active" {
				n++
			}
		}
		return n
	}
	if r.box("B1").Medium.Drying != nil || standing() != 1 {
		t.Fatalf("before the air is read: %+v, %d alarms", r.box("B1").Medium.Drying, standing())
	}
	r.options.Worker = nil
	for len(jobs) > 0 {
		job := jobs[0]
		jobs = jobs[1:]
		job()()
	}
	r.run(3 * time.Hour)
	if d := r.box("B1").Medium.Drying; d == nil || d.Lost == nil || standing() != 1 || len(r.told()) != 1 {
		t.Errorf("after it is read: %+v, %d alarms, %v", d, standing(), subjects(r.told()))
	}
}
