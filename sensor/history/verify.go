package history

import (
	"bytes"
	"errors"
	"fmt"

	"go.etcd.io/bbolt"
)

// Verify looks through the content of a history's file, in a transaction of it,
// for what was damaged and still looks like a file: it reads every record, and
// sees that the tail is the one that was last written. A file without a history
// is fine.
func Verify(tx *bbolt.Tx) error {
	if tx.Bucket(bucketMeta) == nil {
		return nil
	}
	for _, name := range [][]byte{bucketBoots, bucketTail, bucketBlocks, bucketSummaries} {
		if tx.Bucket(name) == nil {
			return fmt.Errorf("history: the bucket %q is missing", name)
		}
	}
	err := tx.Bucket(bucketBoots).ForEach(func(k, v []byte) error {
		if _, err := decodeBoot(k, v); err != nil {
			return fmt.Errorf("history: a boot: %w", err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, each := range []struct {
		bucket []byte
		read   func([]byte) error
	}{
		{bucketBlocks, func(v []byte) error { _, err := decode(v); return err }},
		{bucketSummaries, func(v []byte) error { _, err := decodeSum(v); return err }},
	} {
		all := tx.Bucket(each.bucket)
		err := all.ForEachBucket(func(name []byte) error {
			return all.Bucket(name).ForEach(func(k, v []byte) error {
				if _, ok := readKey(k); !ok {
					return fmt.Errorf("history: a key of %d bytes among the %s of probe %s", len(k), each.bucket, name)
				}
				if err := each.read(v); err != nil {
					return fmt.Errorf("history: the %s of probe %s: %w", each.bucket, name, err)
				}
				return nil
			})
		})
		if err != nil {
			return err
		}
	}
	return verifyTail(tx.Bucket(bucketTail))
}

// verifyTail sees that each entry is whole and that none is missing: they are
// numbered, and how many there were is kept on another page than they are.
func verifyTail(tail *bbolt.Bucket) error {
	next := uint64(1)
	err := tail.ForEach(func(k, v []byte) error {
		if !bytes.Equal(k, tailKey(next)) {
			return fmt.Errorf("history: entry %d of the tail is missing", next)
		}
		next++
		_, _, _, err := decodeChunk(v)
		return err
	})
	if err == nil && next-1 != tail.Sequence() {
		err = fmt.Errorf("history: the tail has %d entries of %d", next-1, tail.Sequence())
	}
	return err
}

// decodeChunk reads an entry of the tail.
func decodeChunk(v []byte) (name string, at key, rows []row, err error) {
	r := reader{b: v}
	name = string(r.bytes(r.uvarint()))
	at = key{uint32(r.uvarint()), uint32(r.uvarint())}
	if r.err != nil {
		return "", key{}, nil, fmt.Errorf("history: an entry of the tail: %w", r.err)
	}
	if name == "" {
		return "", key{}, nil, errors.New("history: an entry of the tail names no probe")
	}
	if rows, err = decode(r.b); err != nil {
		return "", key{}, nil, fmt.Errorf("history: the tail of probe %s: %w", name, err)
	}
	return name, at, rows, nil
}
