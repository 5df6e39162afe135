package history

import (
	"bytes"
	"compress/gzip"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history/stored"
	"go.etcd.io/bbolt"
)

// earlierFile is a file of schema 1, and the readings of p and q that it holds: 39 hours of
// each, of which the last three are in the tail.
func earlierFile(t testing.TB) (db *bbolt.DB, want map[string][]sensor.Reading) {
	t.Helper()
	packed, err := os.Open("testdata/schema-1.db.gz")
	if err != nil {
		t.Fatal(err)
	}
	defer packed.Close()
	r, err := gzip.NewReader(packed)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "readings.db")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	want = map[string][]sensor.Reading{}
	for i, p := range []string{"p", "q"} {
		want[p] = room(rand.New(rand.NewPCG(1, uint64(i))), p, 1, 0, 39*time.Hour, time.Minute)
	}
	return openFile(t, path, 0), want
}

// A station goes on with a file of an earlier version: its blocks stay as they are, alone or in
// a day, and new ones follow.
func TestAFileOfAnEarlierVersionGoesOn(t *testing.T) {
	db, want := earlierFile(t)
	if err := db.View(Verify); err != nil {
		t.Fatal(err)
	}
	s := reopened(t, db)
	for p, readings := range want {
		wantSame(t, all(t, s, p), readings)
	}
	if n, damages := checked(t, s); n != 12 || len(damages) > 0 {
		t.Errorf("a check of %d blocks finds %v", n, damages)
	}
	for h := time.Duration(39); h < 120; h += 3 {
		for i, p := range []string{"p", "q"} {
			r := room(rand.New(rand.NewPCG(uint64(h), uint64(i))), p, 1, h*time.Hour, (h+3)*time.Hour, time.Minute)
			r = r[sensorsAfter(r, want[p]):]
			put(t, s, r...)
			want[p] = append(want[p], r...)
		}
		flush(t, s)
	}
	if err := db.View(Verify); err != nil {
		t.Fatal(err)
	}
	versions := map[byte]int{}
	err := db.View(func(tx *bbolt.Tx) error {
		if v := tx.Bucket(bucketMeta).Get(keySchema); string(v) != "2" {
			t.Errorf("the schema is %s", v)
		}
		list, values, err := stored.Of(tx.Bucket(bucketBlocks).Bucket([]byte("p"))).List()
		if values != 7 {
			t.Errorf("%d values, want four days and three blocks", values)
		}
		for _, b := range list {
			versions[b.Block[0]]++
		}
		return err
	})
	if err != nil || versions[1] != 6 || versions[blockVersion] != 13 {
		t.Errorf("blocks by version: %v, %v", versions, err)
	}
	s = reopened(t, db)
	for p, readings := range want {
		wantSame(t, all(t, s, p), readings)
	}
	// A damaged block of the earlier version is a gap among the others.
	if err := db.Update(func(tx *bbolt.Tx) error { return flipBlock(tx, key{Boot: 1, Index: 1}) }); err != nil {
		t.Fatal(err)
	}
	if _, failed := ranged(s); len(failed) != 1 {
		t.Errorf("errors %v, want one", failed)
	}
}

// sensorsAfter is how many readings are not after the last of others.
func sensorsAfter(r, others []sensor.Reading) (n int) {
	for n < len(r) && r[n].Uptime <= others[len(others)-1].Uptime {
		n++
	}
	return n
}

// earlierBlock is a block of version 1.
func earlierBlock(t testing.TB) (block []byte) {
	t.Helper()
	db, _ := earlierFile(t)
	err := db.View(func(tx *bbolt.Tx) error {
		v, err := stored.Of(tx.Bucket(bucketBlocks).Bucket([]byte("p"))).Get(key{Boot: 1, Index: 2})
		block = bytes.Clone(v)
		return err
	})
	if err != nil || block[0] != 1 {
		t.Fatalf("a block of version %d, %v", block[0], err)
	}
	return block
}
