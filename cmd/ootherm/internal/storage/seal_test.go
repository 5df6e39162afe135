package storage

import (
	"errors"
	"path/filepath"
	"testing"
	"time"

	"go.etcd.io/bbolt"
)

func TestSealFindsUnsealedChanges(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*bbolt.Tx) error
		bad    bool
	}{
		"nothing":          {func(*bbolt.Tx) error { return nil }, false},
		"a value":          {func(tx *bbolt.Tx) error { return tx.Bucket(bucketEntries).Put([]byte("k"), []byte("w")) }, true},
		"a key more":       {func(tx *bbolt.Tx) error { return tx.Bucket(bucketEntries).Put([]byte("l"), nil) }, true},
		"a key less":       {func(tx *bbolt.Tx) error { return tx.Bucket(bucketEntries).Delete([]byte("k")) }, true},
		"a bucket in it":   {func(tx *bbolt.Tx) error { _, err := tx.Bucket(bucketEntries).CreateBucket([]byte("m")); return err }, true},
		"a bucket":         {func(tx *bbolt.Tx) error { _, err := tx.CreateBucket([]byte("z")); return err }, true},
		"a sequence":       {func(tx *bbolt.Tx) error { return tx.Bucket(bucketEntries).SetSequence(7) }, true},
		"the seal, spoilt": {func(tx *bbolt.Tx) error { return tx.Bucket(bucketSeal).Put(keySeal, []byte("x")) }, true},
	} {
		t.Run(name, func(t *testing.T) {
			db, err := bbolt.Open(filepath.Join(t.TempDir(), "file"), 0o600, &bbolt.Options{Timeout: time.Second})
			if err != nil {
				t.Fatal(err)
			}
			defer db.Close()
			err = db.Update(func(tx *bbolt.Tx) error {
				b, err := tx.CreateBucket(bucketEntries)
				if err != nil {
					return err
				}
				return errors.Join(b.Put([]byte("k"), []byte("v")), Seal(tx), c.change(tx))
			})
			if err != nil {
				t.Fatal(err)
			}
			if err := db.View(verify); (err != nil) != c.bad {
				t.Errorf("the check returned %v", err)
			}
			// A page of an older commit has an older seal.
			if name == "nothing" {
				if err := db.Update(func(tx *bbolt.Tx) error { return tx.Bucket(bucketEntries).Delete([]byte("k")) }); err != nil {
					t.Fatal(err)
				}
				if err := db.View(verify); err == nil {
					t.Error("a commit without a seal passes")
				}
			}
		})
	}
}

func TestContentChecksOfOwnersRun(t *testing.T) {
	dir := t.TempDir()
	f := mustOpen(t, dir, Options{})
	for _, db := range []*bbolt.DB{f.Records(), readings(t, f)} {
		err := db.Update(func(tx *bbolt.Tx) error {
			_, err := tx.CreateBucket([]byte("forbidden"))
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	mustClose(t, f)
	f = mustOpen(t, dir, Options{})
	readings(t, f)
	if d := f.Damages(); len(d) != 1 || d[0].File != RecordsName || d[0].Why != "a forbidden bucket" {
		t.Errorf("damages %v", d)
	}
	mustClose(t, f)
}
