package history

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"example.com/ootherm/sensor/history/stored"
	"go.etcd.io/bbolt"
)

// daysOf is a file with ten days of p and an hour of the next, in which one record is changed.
func daysOf(t *testing.T, change func(*bbolt.Bucket) error) (db *bbolt.DB, before []Point) {
	t.Helper()
	db = openFile(t, filepath.Join(t.TempDir(), "readings.db"), 0)
	s, err := Open(db, Options{})
	if err != nil {
		t.Fatal(err)
	}
	b := begin(t, s, "a", t0)
	rng := rand.New(rand.NewPCG(81, 81))
	for h := time.Duration(0); h < 241; h++ {
		put(t, s, room(rng, "p", b.Number, h*time.Hour, (h+1)*time.Hour, time.Minute)...)
		if h%5 == 0 {
			flush(t, s)
		}
	}
	flush(t, s)
	if err := db.View(Verify); err != nil {
		t.Fatalf("a sound file: %v", err)
	}
	before = all(t, s, "p")
	err = db.Update(func(tx *bbolt.Tx) error {
		return errors.Join(change(tx.Bucket(bucketBlocks).Bucket([]byte("p"))), stamp(tx))
	})
	if err != nil {
		t.Fatal(err)
	}
	return db, before
}

func reopened(t *testing.T, db *bbolt.DB) *Store {
	t.Helper()
	s, err := Open(db, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestAFinishedDayIsOneValue(t *testing.T) {
	db, before := daysOf(t, func(b *bbolt.Bucket) error {
		days, others := 0, 0
		return errors.Join(b.ForEach(func(_, v []byte) error {
			if stored.IsDay(v) {
				days++
			} else {
				others++
			}
			return nil
		}), func() error {
			if days != 9 || others != 4 {
				t.Errorf("%d days and %d other blocks, want 9 and the 4 of the last day", days, others)
			}
			return nil
		}())
	})
	s := reopened(t, db)
	if got, failed := ranged(s); len(failed) > 0 || !slices.EqualFunc(got, before, func(a, b Point) bool { return a.At.Equal(b.At) && same(a.Reading, b.Reading) }) {
		t.Errorf("%d of %d readings, errors %v", len(got), len(before), failed)
	}
}

func TestADamagedBlockOfADayCostsNoMoreThanItself(t *testing.T) {
	db, before := daysOf(t, func(b *bbolt.Bucket) error {
		v := bytes.Clone(b.Get(key{Boot: 1, Index: 4}.Bytes()))
		v[len(v)*5/8] ^= 0x55 // in the third quarter
		return b.Put(key{Boot: 1, Index: 4}.Bytes(), v)
	})
	if err := db.View(Verify); err != nil {
		t.Errorf("a start finds %v, want the old block left to the check", err)
	}
	s := reopened(t, db)
	got, failed := ranged(s)
	rest := outside(before, 36*time.Hour, 42*time.Hour)
	var d *Damage
	if len(failed) != 1 || !errors.As(failed[0], &d) || !d.From.Equal(t0.Add(36*time.Hour)) || len(got) != len(rest) {
		t.Errorf("%d of %d readings, errors %v; want hours 36 to 42 damaged alone", len(got), len(rest), failed)
	}
}

func TestADamagedHeadOfADayCostsTheDay(t *testing.T) {
	for at := range 10 { // a version, four lengths, a sum
		db, before := daysOf(t, func(b *bbolt.Bucket) error {
			v := bytes.Clone(b.Get(key{Boot: 1, Index: 4}.Bytes()))
			v[at] ^= 0x01
			return b.Put(key{Boot: 1, Index: 4}.Bytes(), v)
		})
		if err := db.View(Verify); err != nil {
			t.Errorf("byte %d: a start finds %v, want the old day left to the check", at, err)
		}
		s := reopened(t, db)
		got, failed := ranged(s)
		if rest := outside(before, 24*time.Hour, 48*time.Hour); len(failed) != 4 || len(got) != len(rest) {
			t.Errorf("byte %d: %d of %d readings, errors %v; want four", at, len(got), len(rest), failed)
		}
		for i, err := range failed {
			if d := new(Damage); !errors.As(err, &d) || !d.From.Equal(t0.Add(time.Duration(24+6*i)*time.Hour)) {
				t.Errorf("byte %d: damage %d is %v", at, i, err)
			}
		}
		if n, damages := checked(t, s); n != 40 || len(damages) != 4 {
			t.Errorf("byte %d: a check of %d blocks finds %v", at, n, damages)
		}
	}
}

func TestALostOrDamagedNewDayIsSeen(t *testing.T) {
	last := key{Boot: 1, Index: 32}.Bytes()
	for name, lose := range map[string]func(b *bbolt.Bucket) error{
		"a day": func(b *bbolt.Bucket) error { return b.Delete(last) },
		"a block of a day": func(b *bbolt.Bucket) error {
			d, err := stored.ReadDay(b.Get(last))
			d[1] = nil
			return errors.Join(err, b.Put(last, d.Encode()))
		},
		"the head of a day": func(b *bbolt.Bucket) error {
			v := bytes.Clone(b.Get(last))
			v[2] ^= 1
			return b.Put(last, v)
		},
		"the middle of a day": func(b *bbolt.Bucket) error { return flip(b, last) },
		"a foreign block in a day": func(b *bbolt.Bucket) error {
			return b.Put(key{Boot: 1, Index: 44}.Bytes(), b.Get(last))
		},
	} {
		t.Run(name, func(t *testing.T) {
			db, _ := daysOf(t, lose)
			if err := db.View(Verify); err == nil {
				t.Error("a start finds no damage")
			}
		})
	}
}

// The noise of room takes 2.07 bytes a reading at the least, see roomBits. The limits are some
// per cent over what was measured: 2.21 encoded, 2.33 on pages of 4 kB.
func TestReadingsTakeLittleRoom(t *testing.T) {
	const mostEncoded, mostPages, days = 2.3, 2.5, 15
	db, err := bbolt.Open(filepath.Join(t.TempDir(), "readings.db"), 0o600, &bbolt.Options{PageSize: 4096, NoSync: true})
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	s, err := Open(db, Options{})
	if err != nil {
		t.Fatal(err)
	}
	b := begin(t, s, "a", t0)
	rng := rand.New(rand.NewPCG(82, 82))
	for h := time.Duration(0); h < days*24; h += 6 {
		put(t, s, room(rng, "p", b.Number, h*time.Hour, (h+6)*time.Hour, 10*time.Second)...)
		flush(t, s)
	}
	err = db.View(func(tx *bbolt.Tx) error {
		blocks := tx.Bucket(bucketBlocks).Bucket([]byte("p"))
		list, _, err := stored.Of(blocks).List()
		size, n := 0, 0
		for _, block := range list {
			rows, err := decode(block.Block)
			if err != nil {
				return err
			}
			size, n = size+len(block.Block), n+len(rows)
		}
		encoded, pages := float64(size)/float64(n), float64(blocks.Stats().LeafAlloc)/float64(n)
		t.Logf("%d readings: %.2f bytes each encoded, %.2f on pages; the least is %.2f", n, encoded, pages, roomBits()/8)
		if encoded > mostEncoded || pages > mostPages {
			t.Errorf("%.2f bytes a reading encoded and %.2f on pages, at most %g and %g", encoded, pages, mostEncoded, mostPages)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}
