package pastreadings_test

import (
	"iter"
	"path/filepath"
	"testing"
	"time"

	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
	"go.etcd.io/bbolt"
)

// counted is a history that counts the raw readings that are read of it.
type counted struct {
	*history.Store
	read *int
}

func (c counted) Values(probe string, from, to time.Time) iter.Seq2[[]history.Value, error] {
	return func(yield func([]history.Value, error) bool) {
		for values, err := range c.Store.Values(probe, from, to) {
			*c.read += len(values)
			if !yield(values, err) {
				return
			}
		}
	}
}

// The blocks of a zone are computed once, and kept until something changes on which they
// depend. What eggs felt is always what the readings make, to the bit.
func TestBlocksAreKeptForTheNextStart(t *testing.T) {
	path := filepath.Join(t.TempDir(), "readings.db")
	db, err := bbolt.Open(path, 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.NoSync = true
	store, err := history.Open(db, history.Options{})
	if err != nil {
		t.Fatal(err)
	}
	fillWeek(t, store)
	if err := store.Flush(); err != nil {
		t.Fatal(err)
	}
	now := began.Add(7 * 24 * time.Hour)
	boots := store.Boots()
	// An edge is read for the gap limit before and behind it, and up to the next whole block.
	const edges = 2 * 2 * 7 * 60
	for _, c := range []struct {
		name   string
		change func() (offset float64)
		kept   bool
	}{
		{"the first start", func() float64 { return 0.25 }, false},
		{"the next start", func() float64 { return 0.25 }, true},
		{"another offset", func() float64 { return 0.5 }, false},
		{"the start after that", func() float64 { return 0.5 }, true},
		{"the boot has another date", func() float64 {
			if err := store.Date(boots[0].Number, boots[0].Start.Add(time.Hour), 0, true); err != nil {
				t.Fatal(err)
			}
			return 0.5
		}, false},
		{"a boot follows", func() float64 {
			if _, err := store.Begin("b", now, 0, true); err != nil {
				t.Fatal(err)
			}
			return 0.5
		}, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			read := 0
			offset := c.change()
			r := pastOfWeek(counted{store, &read}, history.DerivedOf(store), now, offset).Reader()
			stay := book.Stay{Zone: "room", From: began.Add(5 * time.Hour), To: began.Add(6*24*time.Hour + 7*time.Minute)}
			got, err := track.Stay(r, stay, r.Gap)
			if err != nil {
				t.Fatal(err)
			}
			// The block of the calibration is never kept.
			if kept := read < edges+2*6*60; kept != c.kept {
				t.Errorf("%d readings were read", read)
			}
			want, err := track.Stay(bySamples{pastOfWeek(store, nil, now, offset).Reader()}, stay, r.Gap)
			if err != nil {
				t.Fatal(err)
			}
			a, _ := got.MarshalBinary()
			b, _ := want.MarshalBinary()
			if string(a) != string(b) {
				t.Errorf("%v measured, mean %v; by samples %v, %v", got.Measured(), got.Mean(), want.Measured(), want.Mean())
			}
		})
	}
}

// A running station keeps the blocks that were completed since it started.
func TestBlocksOfARunningStationAreKept(t *testing.T) {
	db, err := bbolt.Open(filepath.Join(t.TempDir(), "readings.db"), 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.NoSync = true
	store, err := history.Open(db, history.Options{})
	if err != nil {
		t.Fatal(err)
	}
	fillWeek(t, store)
	derived := history.DerivedOf(store)
	count := func() int {
		kept, err := derived.Load("zone room, 0 K warmer", 0, 1<<40)
		if err != nil {
			t.Fatal(err)
		}
		return len(kept)
	}
	now := began.Add(3 * 24 * time.Hour)
	p := pastOfWeekAt(store, derived, &now, 0.25)
	r := p.Reader()
	if _, err := track.Stay(r, book.Stay{Zone: "room", From: began, To: began.Add(24 * time.Hour)}, r.Gap); err != nil {
		t.Fatal(err)
	}
	before := count()
	p.KeepBlocks()
	now = now.Add(6 * time.Hour)
	p.KeepBlocks()
	p.KeepBlocks()
	if got := count() - before; got < 4 || got > 5 {
		t.Errorf("%d more blocks are kept, want those of the last day", got)
	}
}
