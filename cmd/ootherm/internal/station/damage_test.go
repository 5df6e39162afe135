package station_test

import (
	"errors"
	"iter"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"go.etcd.io/bbolt"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
)

// failing is a history that cannot be read for a while.
type failing struct {
	station.History
	fails bool
}

var errRead = errors.New("one read failed")

func (f *failing) Range(probe string, from, to time.Time) iter.Seq2[history.Point, error] {
	if f.fails {
		return func(yield func(history.Point, error) bool) { yield(history.Point{}, errRead) }
	}
	return f.History.Range(probe, from, to)
}

func (f *failing) Summaries(probe string, from, to time.Time) iter.Seq2[history.Summary, error] {
	if f.fails {
		return func(yield func(history.Summary, error) bool) { yield(history.Summary{}, errRead) }
	}
	return f.History.Summaries(probe, from, to)
}

func (f *failing) Exposure(probe string, from, to time.Time, correct history.Correction) (thermal.Exposure, thermal.Sample, thermal.Sample, error) {
	if f.fails {
		return thermal.Exposure{}, thermal.Sample{}, thermal.Sample{}, errRead
	}
	return f.History.Exposure(probe, from, to, correct)
}

// singlePlan has one limit of exposure: half an hour at 30 C.
func singlePlan(t *testing.T) plan.Plan {
	p := testPlan(t)
	for i := range p.Zones {
		p.Zones[i].Wanted, p.Zones[i].Safe = nil, &plan.Band{Low: ptr(0), High: ptr(50)}
	}
	p.Zones[0].Single = &plan.Dose{High: ptr(30), For: 30 * time.Minute}
	return p
}

// tryNote notes lines and gives the error, if any.
func (b *bench) tryNote(lines string) error {
	b.t.Helper()
	all, err := book.ReadAll(strings.NewReader(lines))
	if err == nil {
		_, err = b.Note(b.t.Context(), book.NewDraft(all...))
	}
	return err
}

// problems follows what the station logs.
func (b *bench) problems() *[]string {
	var all []string
	b.options.Log = func(err error) { all = append(all, err.Error()) }
	return &all
}

// While the history cannot be read, and after that, an entry is accepted, and every
// alarm and window that needs the history is there once it can be read again.
func TestReadsThatFailForAWhile(t *testing.T) {
	eight := 8 * time.Hour
	for _, x := range []struct {
		name string
		at   time.Duration // of the note, after the reads fail
		long time.Duration // how long they fail
	}{
		{"no failure", time.Minute, 0},
		{"shorter than the tries", 2 * time.Minute, 3 * time.Minute},
		{"longer than the tries", 2 * time.Minute, 90 * time.Minute},
	} {
		t.Run(x.name, func(t *testing.T) {
			p := singlePlan(t)
			p.Senders[0].AllWell = &eight
			b := newBench(t, p)
			h := &failing{History: b.options.History}
			b.options.History = h
			log := b.problems()
			b.start(began)
			at := began
			run := func(d time.Duration, c float64) {
				for end := at.Add(d); at.Before(end); at = at.Add(time.Minute) {
					b.observe(at, map[string]float64{"air": c, "dummy": c, "warm": 27})
				}
			}
			run(13*time.Hour-2*time.Minute, 23) // 08:00 is in two minutes
			fails := func() { h.fails = at.Before(began.Add(13*time.Hour - 2*time.Minute + x.long)) }
			fails()
			run(x.at, 23)
			if err := b.tryNote(season); err != nil {
				t.Errorf("the note while reads fail: %v", err)
			}
			for range 100 {
				fails()
				run(time.Minute, 23)
			}
			if err := b.tryNote(`{"key":"y1","at":"` + at.Format(time.RFC3339) + `","entry":"note","about":"B1","text":"looked"}` + "\n"); err != nil {
				t.Errorf("a later note: %v", err)
			}
			run(2*time.Hour+30*time.Minute, 33)
			if got := b.raised("single-event"); len(got) == 0 {
				t.Error("eggs were above 30 C for over two hours; no alarm was raised")
			}
			for _, box := range b.Now().Boxes {
				for _, c := range box.Clutches {
					if c.Window == nil || c.Observed == nil || *c.Observed < 0.1 {
						t.Errorf("%s has the window %v, measured %v", c.Clutch, c.Window, deref(c.Observed))
					}
				}
			}
			daily := 0
			for _, m := range b.waiting() {
				if strings.HasPrefix(m.Alarm, "all-well") {
					daily++
				}
			}
			if daily != 1 {
				t.Errorf("%d lines of the day, want one", daily)
			}
			if want := min(1, int(x.long/time.Minute)); len(*log) < want || len(*log) > 2*want {
				t.Errorf("logged %q", *log)
			}
		})
	}
}

// damage flips a bit in the first stored block of a probe.
func damage(t *testing.T, db *bbolt.DB, probe string) {
	t.Helper()
	err := db.Update(func(tx *bbolt.Tx) error {
		b := tx.Bucket([]byte("blocks")).Bucket([]byte(probe))
		k, v := b.Cursor().First()
		if k == nil {
			return errors.New("no block is stored")
		}
		v = slices.Clone(v)
		v[len(v)/2] ^= 0x40
		return b.Put(slices.Clone(k), v)
	})
	if err != nil {
		t.Fatal(err)
	}
}

// With one bit flipped in one stored block while the station runs, the alarms are
// raised as without, entries are accepted, each clutch has its window, and the
// damage is told once, with its bounds.
func TestDamagedBlockWhileRunning(t *testing.T) {
	type result struct {
		raised []time.Time
		told   []string
	}
	results := map[bool]result{}
	for _, damaged := range []bool{false, true} {
		b := newBench(t, singlePlan(t))
		db, err := bbolt.Open(filepath.Join(t.TempDir(), "readings.db"), 0o600, &bbolt.Options{NoSync: true})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = db.Close() })
		store, err := history.Open(db, history.Options{GapLimit: 10 * time.Minute})
		if err != nil {
			t.Fatal(err)
		}
		if b.options.Boot, err = store.Begin("one", began, 0, true); err != nil {
			t.Fatal(err)
		}
		b.options.History = store
		log := b.problems()
		b.start(began)
		at := began
		run := func(d time.Duration, c float64) {
			for end := at.Add(d); at.Before(end); at = at.Add(time.Minute) {
				b.observe(at, map[string]float64{"air": c, "dummy": c, "warm": 27})
			}
		}
		run(13*time.Hour, 23)
		if err := b.Flush(); err != nil {
			t.Fatal(err)
		}
		if damaged {
			damage(t, db, "air")
		}
		if err := b.tryNote(season); err != nil {
			t.Errorf("damaged %v: the first note: %v", damaged, err)
		}
		run(2*time.Hour+30*time.Minute, 33)
		if err := b.tryNote(`{"key":"z1","at":"` + at.Format(time.RFC3339) + `","entry":"moved","box":"B1","zone":"room","probe":"air"}` + "\n"); err != nil {
			t.Errorf("damaged %v: a later note: %v", damaged, err)
		}
		run(time.Hour, 33)
		for _, box := range b.Now().Boxes {
			for _, c := range box.Clutches {
				if c.Window == nil || c.Observed == nil {
					t.Errorf("damaged %v: %s has the window %v, measured %v", damaged, c.Clutch, c.Window, deref(c.Observed))
				}
			}
		}
		r := result{raised: b.raised("single-event")}
		for _, m := range b.waiting() {
			if strings.HasPrefix(m.Alarm, "history-damaged") {
				r.told = append(r.told, m.Body)
			}
		}
		results[damaged] = r
		if want := map[bool]int{true: 1}[damaged]; len(*log) != want || len(r.told) != want {
			t.Errorf("damaged %v: logged %q, told %q, want each %d times", damaged, *log, r.told, want)
		}
		for _, text := range r.told {
			for _, part := range []string{"air", "19:00", "01:00"} {
				if !strings.Contains(text, part) {
					t.Errorf("the message lacks %q:\n%s", part, text)
				}
			}
		}
		b.start(at) // a restart starts, and tells nothing twice
		run(10*time.Minute, 33)
		n := 0
		for _, m := range b.waiting() {
			if strings.HasPrefix(m.Alarm, "history-damaged") {
				n++
			}
		}
		if n != len(r.told) {
			t.Errorf("damaged %v: after a restart %d messages tell of the damage, want %d", damaged, n, len(r.told))
		}
	}
	if got, want := results[true].raised, results[false].raised; len(want) == 0 || len(got) != len(want) || !got[0].Equal(want[0]) {
		t.Errorf("single-event raised at %v with damage, at %v without", got, want)
	}
}
