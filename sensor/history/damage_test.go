package history

import (
	"bytes"
	"errors"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/sensor/history/stored"
	"go.etcd.io/bbolt"
)

// spoilt is a file with a day of readings in four blocks and a tail, in which
// one record is changed.
func spoilt(t *testing.T, change func(*bbolt.Tx) error) (s *Store, before []Point) {
	t.Helper()
	db := openFile(t, filepath.Join(t.TempDir(), "readings.db"), 0)
	s, err := Open(db, Options{})
	if err != nil {
		t.Fatal(err)
	}
	b := begin(t, s, "a", t0)
	rng := rand.New(rand.NewPCG(51, 51))
	for h := range time.Duration(27) {
		put(t, s, room(rng, "p", b.Number, h*time.Hour, (h+1)*time.Hour, time.Minute)...)
		flush(t, s)
	}
	if err := db.View(Verify); err != nil {
		t.Fatalf("a sound file: %v", err)
	}
	before = all(t, s, "p")
	if err := db.Update(func(tx *bbolt.Tx) error { return errors.Join(change(tx), stamp(tx)) }); err != nil {
		t.Fatal(err)
	}
	if err := db.View(Verify); err == nil {
		t.Errorf("a spoilt file: %v", err)
	}
	if s, err = Open(db, Options{}); err != nil {
		t.Fatal(err)
	}
	return s, before
}

// flip changes one byte of a value.
func flip(b *bbolt.Bucket, k []byte) error {
	v := append([]byte(nil), b.Get(k)...)
	v[len(v)/2] ^= 0x55
	return b.Put(k, v)
}

// flipBlock changes one byte of a block of p.
func flipBlock(tx *bbolt.Tx, k key) error {
	b := stored.Of(tx.Bucket(bucketBlocks).Bucket([]byte("p")))
	block, err := b.Get(k)
	if err != nil {
		return err
	}
	block = bytes.Clone(block)
	block[len(block)/2] ^= 0x55
	return b.Put(k, block)
}

// dropBlock deletes a block of p alone.
func dropBlock(tx *bbolt.Tx, k key) error {
	b := tx.Bucket(bucketBlocks).Bucket([]byte("p"))
	if v := b.Get(k.Day().Bytes()); stored.IsDay(v) {
		return stored.Of(b).Put(k, nil)
	}
	return b.Delete(k.Bytes())
}

func ranged(s *Store) (got []Point, failed []error) {
	for p, err := range s.Range("p", t0, t0.Add(1000*time.Hour)) {
		if err != nil {
			failed = append(failed, err)
			continue
		}
		got = append(got, p)
	}
	return got, failed
}

func TestADamagedBlockCostsNoMoreThanItself(t *testing.T) {
	s, before := spoilt(t, func(tx *bbolt.Tx) error {
		return flipBlock(tx, key{Boot: 1, Index: 1})
	})
	got, failed := ranged(s)
	if len(failed) != 1 || !strings.Contains(failed[0].Error(), "probe p, boot 1, hours 6 to 12") {
		t.Fatalf("errors %v", failed)
	}
	var d *Damage
	if !errors.As(failed[0], &d) || d.Probe != "p" || !d.From.Equal(t0.Add(6*time.Hour)) || !d.To.Equal(t0.Add(12*time.Hour)) {
		t.Errorf("the damage is %+v, want that of p from hour 6 to hour 12", d)
	}
	lost := 0
	for _, p := range before {
		if p.Uptime >= 6*time.Hour && p.Uptime < 12*time.Hour {
			lost++
		}
	}
	if lost < 100 || len(got) != len(before)-lost {
		t.Errorf("%d of %d readings, %d were damaged", len(got), len(before), lost)
	}
	// Its summary stands in.
	x, _, _, err := s.Exposure("p", t0, t0.Add(100*time.Hour), nil)
	if err != nil {
		t.Fatal(err)
	}
	want, _, _ := straight(before, defaultGapLimit, nil)
	wantEqual(t, x, want, 1e-9)
}

func TestADamagedSummaryIsMadeUpFromTheReadings(t *testing.T) {
	s, before := spoilt(t, func(tx *bbolt.Tx) error {
		return flip(tx.Bucket(bucketSummaries).Bucket([]byte("p")), key{Boot: 1, Index: 2}.Bytes())
	})
	x, _, _, err := s.Exposure("p", t0, t0.Add(100*time.Hour), nil)
	if err != nil {
		t.Fatal(err)
	}
	want, _, _ := straight(before, defaultGapLimit, nil)
	wantEqual(t, x, want, 1e-9)
	n, failed := 0, 0
	for _, err := range s.Summaries("p", t0, t0.Add(100*time.Hour)) {
		if err != nil {
			failed++
			continue
		}
		n++
	}
	if n != 4 || failed != 1 {
		t.Errorf("%d summaries, %d failed", n, failed)
	}
}

func TestADamagedLastSummaryDoesNotHideItsReadings(t *testing.T) {
	s, before := spoilt(t, func(tx *bbolt.Tx) error {
		return flip(tx.Bucket(bucketSummaries).Bucket([]byte("p")), key{Boot: 1, Index: 3}.Bytes())
	})
	if l := s.Losses(); l.Damaged != 1 {
		t.Errorf("losses %+v", l)
	}
	got, failed := ranged(s)
	if len(got) != len(before) || len(failed) != 0 {
		t.Errorf("%d of %d readings, %v", len(got), len(before), failed)
	}
}

// damagedRange gives a day of minutely readings whose block of hours 6 to 12 has a flipped
// bit in its readings, in its summary too if both is set.
func damagedRange(t *testing.T, both bool) (s *Store, before []Point) {
	t.Helper()
	return spoilt(t, func(tx *bbolt.Tx) error {
		err := flipBlock(tx, key{Boot: 1, Index: 1})
		if both {
			err = errors.Join(err, flip(tx.Bucket(bucketSummaries).Bucket([]byte("p")), key{Boot: 1, Index: 1}.Bytes()))
		}
		return err
	})
}

// outside are the points whose uptime is not in [from, to).
func outside(points []Point, from, to time.Duration) (kept []Point) {
	for _, p := range points {
		if p.Uptime < from || p.Uptime >= to {
			kept = append(kept, p)
		}
	}
	return kept
}

func TestADamagedBlockAtARaggedEndIsAGapWithBounds(t *testing.T) {
	s, before := damagedRange(t, false)
	from := 8 * time.Hour // inside the damaged block
	x, first, _, err := s.Exposure("p", t0.Add(from), t0.Add(100*time.Hour), nil)
	if err != nil {
		t.Fatal(err)
	}
	want, wantFirst, _ := straight(outside(before, 0, 12*time.Hour), defaultGapLimit, nil)
	wantEqual(t, x, want, 1e-9)
	if !first.At.Equal(wantFirst.At) {
		t.Errorf("the first sample is at %s, want %s: the first that can be read", first.At, wantFirst.At)
	}
}

func TestABlockDamagedWithItsSummaryIsAGapWithBounds(t *testing.T) {
	s, before := damagedRange(t, true)
	rest := outside(before, 6*time.Hour, 12*time.Hour)
	x, _, _, err := s.Exposure("p", t0, t0.Add(100*time.Hour), nil)
	if err != nil {
		t.Fatal(err)
	}
	want, _, _ := straight(rest, defaultGapLimit, nil)
	wantEqual(t, x, want, 1e-9)
	if g := x.Gaps(); len(g) == 0 || g[0].To.Sub(g[0].From) < 5*time.Hour {
		t.Errorf("gaps %+v, want one of the damaged block", g)
	}
	got, failed := ranged(s)
	if len(got) != len(rest) || len(failed) != 1 {
		t.Errorf("%d of %d readings, errors %v", len(got), len(rest), failed)
	}
	var d *Damage
	whole := 0
	for _, err := range s.Summaries("p", t0, t0.Add(100*time.Hour)) {
		if err == nil {
			whole++
		} else if !errors.As(err, &d) {
			t.Errorf("error %v is no Damage", err)
		}
	}
	if whole != 4 || d == nil || d.Probe != "p" || !d.From.Equal(t0.Add(6*time.Hour)) || !d.To.Equal(t0.Add(12*time.Hour)) {
		t.Errorf("%d whole summaries, damage %+v; want four, and hours 6 to 12 of p", whole, d)
	}
}

func TestDamageOutsideTheTimesAskedForIsNotMet(t *testing.T) {
	s, _ := damagedRange(t, true)
	for _, span := range [][2]time.Duration{{0, 6 * time.Hour}, {12 * time.Hour, 100 * time.Hour}} {
		for _, err := range s.Range("p", t0.Add(span[0]), t0.Add(span[1])) {
			if err != nil {
				t.Errorf("from %s: %v", span[0], err)
			}
		}
	}
}

func TestADamagedKeyDoesNotHideTheBlocksBehindIt(t *testing.T) {
	s, before := spoilt(t, func(tx *bbolt.Tx) error {
		b := tx.Bucket(bucketSummaries).Bucket([]byte("p"))
		k := key{Boot: 1, Index: 1}.Bytes()
		v := append([]byte(nil), b.Get(k)...)
		return errors.Join(b.Delete(k), b.Put(k[:7], v))
	})
	got, failed := ranged(s)
	rest := outside(before, 6*time.Hour, 12*time.Hour)
	if len(failed) != 0 || len(got) < len(rest) {
		t.Errorf("%d readings, %v; want the %d of the other blocks", len(got), failed, len(rest))
	}
}

func TestADamagedTailEntryIsCounted(t *testing.T) {
	s, before := spoilt(t, func(tx *bbolt.Tx) error {
		tail := tx.Bucket(bucketTail)
		k, _ := tail.Cursor().First()
		return flip(tail, append([]byte(nil), k...))
	})
	got, failed := ranged(s)
	if len(failed) != 0 || len(got) >= len(before) || len(got) < 24*55 || s.Losses().Damaged != 1 {
		t.Errorf("%d of %d readings, %v, losses %+v", len(got), len(before), failed, s.Losses())
	}
}

func TestALostTailEntryIsSeen(t *testing.T) {
	spoilt(t, func(tx *bbolt.Tx) error {
		tail := tx.Bucket(bucketTail)
		k, _ := tail.Cursor().Last()
		return tail.Delete(append([]byte(nil), k...))
	})
}

func TestPagesOfAnEarlierFlushAreSeen(t *testing.T) {
	db := openFile(t, filepath.Join(t.TempDir(), "readings.db"), 0)
	if _, err := Open(db, Options{}); err != nil {
		t.Fatal(err)
	}
	// The number is then that of the transaction before.
	if err := db.Update(func(*bbolt.Tx) error { return nil }); err != nil {
		t.Fatal(err)
	}
	if err := db.View(Verify); err == nil || !strings.Contains(err.Error(), "last transaction") {
		t.Errorf("error is %v", err)
	}
}

func TestLostBlocksAndSummariesAreSeen(t *testing.T) {
	for name, lose := range map[string]func(*bbolt.Tx) error{
		"a block": func(tx *bbolt.Tx) error { return dropBlock(tx, key{Boot: 1, Index: 3}) },
		"a summary": func(tx *bbolt.Tx) error {
			return tx.Bucket(bucketSummaries).Bucket([]byte("p")).Delete(key{Boot: 1, Index: 3}.Bytes())
		},
		"all blocks":  func(tx *bbolt.Tx) error { return tx.Bucket(bucketBlocks).DeleteBucket([]byte("p")) },
		"all of them": func(tx *bbolt.Tx) error { return tx.Bucket(bucketSummaries).DeleteBucket([]byte("p")) },
		"both": func(tx *bbolt.Tx) error {
			return errors.Join(tx.Bucket(bucketSummaries).Bucket([]byte("p")).Delete(key{Boot: 1, Index: 3}.Bytes()), dropBlock(tx, key{Boot: 1, Index: 3}))
		},
	} {
		t.Run(name, func(t *testing.T) { spoilt(t, lose) })
	}
}

func TestABootThatLostItsRecordIsPlaced(t *testing.T) {
	s, before := spoilt(t, func(tx *bbolt.Tx) error { return flip(tx.Bucket(bucketBoots), []byte{0, 0, 0, 1}) })
	if l := s.Losses(); l.Damaged != 1 {
		t.Errorf("losses %+v", l)
	}
	b := begin(t, s, "b", t0.Add(100*time.Hour))
	if b.Number != 2 {
		t.Errorf("the next boot is number %d", b.Number)
	}
	points := all(t, s, "p")
	if len(points) != len(before) {
		t.Errorf("%d of %d readings", len(points), len(before))
	}
	if boots := s.Boots(); len(boots) != 2 || boots[0].Synchronised || boots[0].Start.After(b.Start) {
		t.Errorf("boots %+v", boots)
	}
}
