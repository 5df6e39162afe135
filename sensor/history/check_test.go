package history

import (
	"errors"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"go.etcd.io/bbolt"
)

// checked counts the blocks that a check reads, and gives the damage that it finds.
func checked(t *testing.T, s *Store) (blocks int, damages []*Damage) {
	t.Helper()
	for err := range s.Check() {
		blocks++
		if d := new(Damage); errors.As(err, &d) {
			damages = append(damages, d)
		} else if err != nil {
			t.Fatal(err)
		}
	}
	return blocks, damages
}

// Damage in an old block does not keep a station from its start: the check beside it finds the
// block. What a complete check has read is not read again, also after a restart.
func TestCheckReadsWhatIsNew(t *testing.T) {
	db := openFile(t, filepath.Join(t.TempDir(), "readings.db"), 0)
	s, err := Open(db, Options{})
	if err != nil {
		t.Fatal(err)
	}
	b := begin(t, s, "a", t0)
	rng := rand.New(rand.NewPCG(71, 71))
	fill := func(from, to time.Duration) {
		put(t, s, room(rng, "p", b.Number, from, to, time.Minute)...)
		flush(t, s)
	}
	fill(0, 10*24*time.Hour+time.Hour) // 40 blocks, and one that is being filled
	err = db.Update(func(tx *bbolt.Tx) error {
		return errors.Join(flipBlock(tx, key{Boot: 1, Index: 3}), stamp(tx))
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := db.View(Verify); err != nil {
		t.Errorf("a start finds %v, want the old block left to the check", err)
	}
	reopen := func() {
		if s, err = Open(db, Options{}); err != nil {
			t.Fatal(err)
		}
	}
	reopen()
	for range s.Check() {
		break // one that is ended early notes nothing
	}
	s.MarkChecked()
	flush(t, s)
	reopen()
	n, damages := checked(t, s)
	if n != 40 || len(damages) != 1 || !damages[0].From.Equal(t0.Add(18*time.Hour)) {
		t.Errorf("%d blocks, damage %v, want 40 and that of hours 18 to 24", n, damages)
	}
	flush(t, s)
	reopen()
	if n, _ := checked(t, s); n != 0 {
		t.Errorf("%d blocks are read again", n)
	}
	fill(10*24*time.Hour+time.Hour, 11*24*time.Hour)
	reopen()
	if n, _ := checked(t, s); n != 3 {
		t.Errorf("%d blocks are read after a stop without a mark, want the 3 new ones", n)
	}
	fill(11*24*time.Hour, 12*24*time.Hour)
	s.MarkChecked()
	flush(t, s)
	reopen()
	if n, _ := checked(t, s); n != 0 {
		t.Errorf("%d blocks are read after a clean stop", n)
	}
}
