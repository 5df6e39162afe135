package exposures

import (
	"errors"
	"iter"
	"math"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/track"
)

var placed = time.Date(2026, 4, 20, 8, 0, 0, 0, time.UTC)

// warm is a history of 25 C each minute, of every probe.
type warm struct{ pastreadings.History }

func (warm) Range(probe string, from, to time.Time) iter.Seq2[history.Point, error] {
	return func(yield func(history.Point, error) bool) {
		for t := from; t.Before(to); t = t.Add(time.Minute) {
			var p history.Point
			p.At, p.Probe, p.Measurement = t, probe, sensor.Measurement{Celsius: 25, Humidity: math.NaN()}
			if !yield(p, nil) {
				return
			}
		}
	}
}

func (w warm) Exposure(probe string, from, to time.Time, correct history.Correction) (x thermal.Exposure, first, last thermal.Sample, err error) {
	for p := range w.Range(probe, from, to) {
		s := thermal.Sample{At: p.At, Celsius: correct(p.At, p.Celsius)}
		if first.At.IsZero() {
			first = s
		} else {
			x.Add(last, s)
		}
		last = s
	}
	return x, first, last, nil
}

// newExposures are those of a book with S1 in the box B1 in room and S2 in B2 in attic, an
// hour after they were placed. Run does the rebuilds that wait, and changes counts them.
func newExposures(t *testing.T) (x *Exposures, run func(), changes *int) {
	t.Helper()
	p := plan.Plan{Every: time.Minute, Probes: []plan.Probe{{Name: "a"}, {Name: "b"}},
		Zones: []plan.Zone{{Name: "room", Probes: []string{"a"}}, {Name: "attic", Probes: []string{"b"}}}}
	var jobs []func() func()
	past := pastreadings.New(pastreadings.Options{History: warm{}, Plan: p, Now: func() time.Time { return placed.Add(time.Hour) },
		Worker: func(job func() func()) { jobs = append(jobs, job) }})
	changes = new(int)
	x = New(p, past, func(profile.Profile) (thermal.Belief, error) { return thermal.Belief{}, errors.New("none") }, func() { *changes++ })
	d, err := book.ReadDraft(strings.NewReader(`{"key":"d","at":"2026-04-01T08:00:00Z","entry":"dam","dam":"Sorrel"}
{"key":"b1","at":"2026-04-01T08:00:00Z","entry":"box","box":"B1","zone":"room","probe":"a","offset_k":1}
{"key":"b2","at":"2026-04-01T08:00:00Z","entry":"box","box":"B2","zone":"attic","probe":"b"}
{"key":"c","at":"2026-04-20T08:00:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":1,"laid_after":"2026-04-19T08:00:00Z","laid_by":"2026-04-20T08:00:00Z"}
{"key":"c1","at":"2026-04-20T08:00:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
{"key":"e","at":"2026-04-20T08:00:00Z","entry":"clutch","clutch":"S2","dam":"Sorrel","eggs":1,"laid_after":"2026-04-19T08:00:00Z","laid_by":"2026-04-20T08:00:00Z"}
{"key":"e1","at":"2026-04-20T08:00:00Z","entry":"placed","egg":"S2-1","box":"B2","slot":"a"}`))
	if err != nil {
		t.Fatal(err)
	}
	var b book.Book
	ready, err := b.Prepare(d)
	if err != nil {
		t.Fatal(err)
	}
	x.SetBook(ready.Stored(nil))
	return x, func() {
		for _, job := range jobs {
			job()()
		}
		jobs = nil
	}, changes
}

// known are the clutches whose track is known.
func known(x *Exposures) string {
	var all []string
	for _, g := range x.Groups() {
		if x.Track(g.Track) != nil {
			all = append(all, g.Clutch)
		}
	}
	return strings.Join(all, " ")
}

// A track is known once it was rebuilt, until it is forgotten. Those that stay are not
// rebuilt again.
func TestTracksAreRebuilt(t *testing.T) {
	x, run, changes := newExposures(t)
	step := func(name, want string, rebuilt int) {
		t.Helper()
		if got := known(x); got != want || *changes != rebuilt {
			t.Fatalf("%s: known %q after %d rebuilds, want %q after %d", name, got, *changes, want, rebuilt)
		}
	}
	step("at first", "", 0)
	x.Rebuild()
	step("while it is read", "", 0)
	run()
	step("when it was read", "S1 S2", 1)
	x.Rebuild()
	run()
	step("nothing is outdated", "S1 S2", 1)
	x.ForgetSources(map[track.Source]bool{{Probe: "a"}: true})
	step("one place is forgotten", "S2", 1)
	x.Rebuild()
	run()
	step("that is read again", "S1 S2", 2)
	x.ForgetAll()
	step("all are forgotten", "", 2)
	x.SetBook(book.Book{})
	x.Rebuild()
	run()
	step("of an empty book", "", 2)
}

// A sample reaches the eggs at its source alone, also one that comes while the stored
// readings are read.
func TestSamplesReachTheirEggs(t *testing.T) {
	x, run, _ := newExposures(t)
	x.Rebuild()
	for m := 60; m <= 90; m++ {
		if m == 75 {
			run()
		}
		at := placed.Add(time.Duration(m) * time.Minute)
		x.Observe(track.Source{Probe: "a"}, thermal.Sample{At: at, Celsius: 25})
		x.Observe(track.Source{Zone: "attic"}, thermal.Sample{At: at, Celsius: 25}) // S2 goes by the probe b, whose readings end after an hour
	}
	for i, want := range []struct {
		measured time.Duration
		celsius  float64
	}{{90 * time.Minute, 26}, {60 * time.Minute, 25}} { // B1 is 1 K warmer than its probe
		g := x.Groups()[i]
		felt := x.Track(g.Track).UpTo(placed.Add(90 * time.Minute))
		if felt.Measured() != want.measured || math.Abs(felt.Mean()-want.celsius) > 0.01 {
			t.Errorf("%s felt %.2f C for %v, want %+v", g.Clutch, felt.Mean(), felt.Measured(), want)
		}
	}
}
