package history

import (
	"errors"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	bbolterrors "go.etcd.io/bbolt/errors"
)

func TestFailedFlushLosesNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "readings.db")
	s, err := Open(openFile(t, path, 0), Options{})
	if err != nil {
		t.Fatal(err)
	}
	b := begin(t, s, "a", t0)
	rng := rand.New(rand.NewPCG(3, 3))
	want := room(rng, "p", b.Number, 0, 20*time.Hour, time.Minute)
	put(t, s, want[:700]...)
	flush(t, s)
	s.db.Close()
	for _, r := range want[700:] {
		put(t, s, r)
		if err := s.Flush(); !errors.Is(err, bbolterrors.ErrDatabaseNotOpen) {
			t.Fatalf("a flush to a closed file said %v", err)
		}
	}
	s.db = openFile(t, path, 0)
	wantSame(t, all(t, s, "p"), want)
	flush(t, s)
	again, err := Open(s.db, Options{})
	if err != nil {
		t.Fatal(err)
	}
	wantSame(t, all(t, again, "p"), want)
}

func TestWhatCannotBeWrittenIsBounded(t *testing.T) {
	s, err := Open(openFile(t, filepath.Join(t.TempDir(), "readings.db"), 0), Options{Unflushed: 10_000})
	if err != nil {
		t.Fatal(err)
	}
	b := begin(t, s, "a", t0)
	s.db.Close()
	rng := rand.New(rand.NewPCG(4, 4))
	want := room(rng, "p", b.Number, 0, 400*time.Hour, time.Minute)
	for i, r := range want {
		put(t, s, r)
		if i%100 == 0 {
			if err := s.Flush(); err == nil {
				t.Fatal("a flush to a closed file succeeded")
			}
		}
	}
	if s.pending > 2*10_000 {
		t.Errorf("%d bytes wait in memory", s.pending)
	}
	if s.Losses().Dropped == 0 {
		t.Error("nothing was counted as dropped")
	}
}
