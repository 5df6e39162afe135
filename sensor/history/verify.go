package history

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"

	"example.com/ootherm/sensor/history/column"
	"go.etcd.io/bbolt"
)

// Verify looks through the content of a history's file, in a transaction of it,
// for what was damaged and still looks like a file: it reads every record, and
// sees that none is missing and that they are those last written. A file without
// a history is fine.
func Verify(tx *bbolt.Tx) error {
	meta := tx.Bucket(bucketMeta)
	if meta == nil {
		return nil
	}
	if v := meta.Get(keyCommit); len(v) != 8 || binary.BigEndian.Uint64(v) != uint64(tx.ID()) {
		return errors.New("the content is not that of the last transaction")
	}
	for _, name := range [][]byte{bucketBoots, bucketTail, bucketBlocks, bucketSummaries} {
		if tx.Bucket(name) == nil {
			return fmt.Errorf("the bucket %q is missing", name)
		}
	}
	err := tx.Bucket(bucketBoots).ForEach(func(k, v []byte) error {
		if _, err := decodeBoot(k, v); err != nil {
			return fmt.Errorf("a boot: %w", err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	blocks, summaries := tx.Bucket(bucketBlocks), tx.Bucket(bucketSummaries)
	err = blocks.ForEachBucket(func(name []byte) error {
		if summaries.Bucket(name) == nil {
			return fmt.Errorf("probe %s has lost its summaries", name)
		}
		return nil
	})
	if err != nil {
		return err
	}
	err = summaries.ForEachBucket(func(name []byte) error {
		if err := verifyProbe(summaries.Bucket(name), blocks.Bucket(name)); err != nil {
			return fmt.Errorf("probe %s: %w", name, err)
		}
		return nil
	})
	if err != nil {
		return err
	}
	return verifyTail(tx.Bucket(bucketTail))
}

// verifyProbe reads a probe's summaries and blocks. Blocks are trimmed the oldest
// first, so from the first block on each summary has its own.
func verifyProbe(summaries, blocks *bbolt.Bucket) error {
	if blocks == nil {
		return errors.New("its blocks are gone")
	}
	c := blocks.Cursor()
	block, rows := c.First()
	trimmed, count := true, uint64(0)
	err := summaries.ForEach(func(k, v []byte) error {
		count++
		at, ok := readKey(k)
		if !ok {
			return fmt.Errorf("a key of %d bytes among the summaries", len(k))
		}
		if _, err := decodeSum(v); err != nil {
			return fmt.Errorf("the summary of boot %d, block %d: %w", at.boot, at.index, err)
		}
		if !bytes.Equal(k, block) {
			if trimmed {
				return nil
			}
			return fmt.Errorf("boot %d, block %d is missing", at.boot, at.index)
		}
		trimmed = false
		if _, err := decode(rows); err != nil {
			return fmt.Errorf("boot %d, block %d: %w", at.boot, at.index, err)
		}
		block, rows = c.Next()
		return nil
	})
	switch {
	case err != nil:
		return err
	case block != nil:
		return errors.New("a block has lost its summary")
	case count != summaries.Sequence():
		return fmt.Errorf("%d summaries of %d are there", count, summaries.Sequence())
	}
	return nil
}

// verifyTail sees that each entry is whole and that none is missing: they are
// numbered, and how many there were is kept on another page than they are.
func verifyTail(tail *bbolt.Bucket) error {
	next := uint64(1)
	err := tail.ForEach(func(k, v []byte) error {
		if !bytes.Equal(k, tailKey(next)) {
			return fmt.Errorf("entry %d of the tail is missing", next)
		}
		next++
		_, _, _, err := decodeChunk(v)
		return err
	})
	if err == nil && next-1 != tail.Sequence() {
		err = fmt.Errorf("the tail has %d entries of %d", next-1, tail.Sequence())
	}
	return err
}

// decodeChunk reads an entry of the tail.
func decodeChunk(v []byte) (name string, at key, rows []row, err error) {
	r := column.Reader{B: v}
	name = string(r.Bytes(r.Uvarint()))
	at = key{uint32(r.Uvarint()), uint32(r.Uvarint())}
	if r.Err != nil {
		return "", key{}, nil, fmt.Errorf("an entry of the tail: %w", r.Err)
	}
	if name == "" {
		return "", key{}, nil, errors.New("an entry of the tail names no probe")
	}
	if rows, err = decode(r.B); err != nil {
		return "", key{}, nil, fmt.Errorf("the tail of probe %s: %w", name, err)
	}
	return name, at, rows, nil
}

// In reports whether a file holds a history.
func In(tx *bbolt.Tx) bool { return tx.Bucket(bucketMeta) != nil }
