package history

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	bbolterrors "go.etcd.io/bbolt/errors"
)

// A file that may not grow loses its oldest readings, never a summary, and goes
// on taking new ones.
func TestAFullFileLosesItsOldestReadings(t *testing.T) {
	const size, days = 4 << 20, 60
	path := filepath.Join(t.TempDir(), "readings.db")
	db := openFile(t, path, size)
	db.NoSync = true
	s, err := Open(db, Options{})
	if err != nil {
		t.Fatal(err)
	}
	b := begin(t, s, "a", t0)
	whole := Memory(Options{})
	begin(t, whole, "a", t0)
	rng := rand.New(rand.NewPCG(41, 41))
	for h := range time.Duration(days * 4) {
		for p := range 8 {
			r := room(rng, fmt.Sprint("p", p), b.Number, h*6*time.Hour, (h+1)*6*time.Hour, 20*time.Second)
			put(t, s, r...)
			put(t, whole, r...)
		}
		flush(t, s)
	}
	if err := db.View(Verify); err != nil {
		t.Errorf("a trimmed file: %v", err)
	}
	info, err := os.Stat(path)
	if err != nil || info.Size() > size {
		t.Fatalf("the file has %d bytes, %v", info.Size(), err)
	}
	end := t0.Add(days * 24 * time.Hour)
	for p := range 8 {
		name := fmt.Sprint("p", p)
		kept := all(t, s, name)
		if len(kept) == 0 || kept[0].At.Equal(t0) || end.Sub(kept[0].At) < 5*24*time.Hour {
			t.Fatalf("%s keeps %d readings, from %s on", name, len(kept), kept[0].At)
		}
		for x, err := range s.Summaries(name, t0, t0.Add(time.Hour)) {
			if err != nil || x.Believed == 0 {
				t.Errorf("the first summary is %+v, %v", x.First, err)
			}
		}
		// The heat of the season is still all there, trimmed blocks too.
		got, _, _, err := s.Exposure(name, t0, end, nil)
		if err != nil {
			t.Fatal(err)
		}
		want, _, _, err := whole.Exposure(name, t0, end, nil)
		if err != nil {
			t.Fatal(err)
		}
		wantEqual(t, got, want, 1e-9)
		// A ragged end in a trimmed block is missing, and said to be.
		got, first, _, err := s.Exposure(name, t0.Add(time.Hour), t0.Add(13*time.Hour), nil)
		if err != nil || first.At.Before(t0.Add(6*time.Hour)) || got.Measured() > 6*time.Hour {
			t.Errorf("from %s, measured %s, %v", first.At, got.Measured(), err)
		}
	}
}

func TestABacklogLargerThanTheFileIsAnErrorThatPasses(t *testing.T) {
	const size = 1 << 20
	db := openFile(t, filepath.Join(t.TempDir(), "readings.db"), size)
	db.NoSync = true
	s, err := Open(db, Options{Unflushed: 300_000})
	if err != nil {
		t.Fatal(err)
	}
	b := begin(t, s, "a", t0)
	rng := rand.New(rand.NewPCG(42, 42))
	put(t, s, room(rng, "p", b.Number, 0, 200*24*time.Hour, 20*time.Second)...)
	if err := s.Flush(); !errors.Is(err, bbolterrors.ErrMaxSizeReached) {
		t.Fatalf("a backlog of %d bytes into a file of %d: %v", s.pending, size, err)
	}
	for range 5 {
		if err = s.Flush(); err == nil {
			break
		}
	}
	if err != nil {
		t.Fatal(err)
	}
	if s.Losses().Dropped == 0 {
		t.Error("nothing was counted as dropped")
	}
}
