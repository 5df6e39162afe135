package stored

import (
	"bytes"
	"maps"
	"path/filepath"
	"slices"
	"testing"

	"go.etcd.io/bbolt"
	"pgregory.net/rapid"
)

const version = 2 // of a block

// Blocks that come in any order are those that a map of them holds.
func TestStoredBlocksAreThoseThatWerePut(t *testing.T) {
	db, err := bbolt.Open(filepath.Join(t.TempDir(), "blocks.db"), 0o600, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.NoSync = true
	rapid.Check(t, func(r *rapid.T) {
		err := db.Update(func(tx *bbolt.Tx) error {
			b, err := tx.CreateBucket([]byte("b"))
			if err != nil {
				return err
			}
			blocks, want := Of(b), map[Key]string{}
			for range rapid.IntRange(1, 60).Draw(r, "n") {
				k := Key{rapid.Uint32Range(1, 3).Draw(r, "boot"), rapid.Uint32Range(0, 14).Draw(r, "index")}
				v := append([]byte{version}, rapid.SliceOfN(rapid.Byte(), 0, 9).Draw(r, "v")...)
				want[k] = string(v)
				if err := blocks.Put(k, v); err != nil {
					return err
				}
			}
			list, values, err := blocks.List()
			if err != nil {
				return err
			}
			if len(list) != len(want) || values > len(list) {
				r.Fatalf("%d blocks in %d values, want %d", len(list), values, len(want))
			}
			for i, k := range slices.SortedFunc(maps.Keys(want), Key.Compare) {
				got, err := blocks.Get(k)
				if err != nil || string(got) != want[k] || list[i].Key != k || string(list[i].Block) != want[k] {
					r.Fatalf("block %v is %q, in the list %+v, want %q, %v", k, got, list[i], want[k], err)
				}
			}
			return tx.DeleteBucket([]byte("b"))
		})
		if err != nil {
			r.Fatal(err)
		}
	})
}

// A damaged day must be an error: never a panic, never other blocks.
func FuzzDay(f *testing.F) {
	d := Day{[]byte{version, 1}, nil, []byte{version}, []byte{version, 2, 3}}
	f.Add(d.Encode())
	f.Add((&Day{}).Encode())
	f.Add([]byte{dayVersion, 255, 255, 255, 255, 255, 255, 255, 255, 255, 1, 1, 1, 1})
	f.Fuzz(func(t *testing.T, b []byte) {
		head := min(len(b), 1+dayBlocks)
		for _, v := range [][]byte{b, append(Seal(bytes.Clone(b[:head]), 0), b[head:]...)} {
			got, err := ReadDay(v)
			if err != nil {
				continue
			}
			again, err := ReadDay(got.Encode())
			if err != nil || !slices.EqualFunc(again[:], got[:], bytes.Equal) {
				t.Fatalf("%q, then %q, %v", got, again, err)
			}
		}
	})
}
