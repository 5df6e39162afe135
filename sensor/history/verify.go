package history

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"

	"example.com/ootherm/sensor/history/column"
	"example.com/ootherm/sensor/history/stored"
	"go.etcd.io/bbolt"
)

// newestSummaries, and newestValues of blocks or days, are how many of each probe Verify decodes.
// What the last transactions wrote lies on the last pages of a probe, with at most so many
// neighbours: a page of 4 kB holds 40 summaries of 100 bytes, and two blocks or more go past it
// (our choice, with a margin).
const (
	newestSummaries = 64
	newestValues    = 8
)

// Verify looks for what a lost write leaves behind in a history's file, in a transaction of
// it: it sees that no record is missing, that they are those last written, and that the
// newest of each probe can be decoded. It takes seconds on a slow machine, whatever the file
// holds. Damage in older records is left to [Store.Check]: it is a gap in a running station. A
// file without a history is fine.
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

// verifyProbe reads the keys of a probe's summaries and blocks, and decodes the newest. Blocks
// are trimmed the oldest first, so from the first block on each summary has its own.
func verifyProbe(summaries, blocks *bbolt.Bucket) error {
	if blocks == nil {
		return errors.New("its blocks are gone")
	}
	rest, values, err := stored.Of(blocks).List()
	if err != nil {
		return err
	}
	fromSummary := newest(summaries, newestSummaries)
	trimmed, count := true, uint64(0)
	err = summaries.ForEach(func(k, v []byte) error {
		count++
		at, ok := stored.ReadKey(k)
		if !ok {
			return fmt.Errorf("a key of %d bytes among the summaries", len(k))
		}
		if bytes.Compare(k, fromSummary) >= 0 {
			if _, err := decodeSum(v); err != nil {
				return fmt.Errorf("the summary of boot %d, block %d: %w", at.Boot, at.Index, err)
			}
		}
		rest = withoutDamaged(rest, at)
		if len(rest) == 0 || rest[0].Key != at {
			if trimmed {
				return nil
			}
			return fmt.Errorf("boot %d, block %d is missing", at.Boot, at.Index)
		}
		block := rest[0]
		trimmed, rest = false, rest[1:]
		if block.Value < values-newestValues {
			return nil
		}
		if block.Err == nil {
			_, block.Err = decode(block.Block)
		}
		if block.Err != nil {
			return fmt.Errorf("boot %d, block %d: %w", at.Boot, at.Index, block.Err)
		}
		return nil
	})
	switch {
	case err != nil:
		return err
	case len(withoutDamaged(rest, key{Boot: math.MaxUint32, Index: math.MaxUint32})) > 0:
		return errors.New("a block has lost its summary")
	case count != summaries.Sequence():
		return fmt.Errorf("%d summaries of %d are there", count, summaries.Sequence())
	}
	return nil
}

// withoutDamaged skips the blocks before a key that a damaged day may have held.
func withoutDamaged(blocks []stored.Listed, before key) []stored.Listed {
	for len(blocks) > 0 && blocks[0].Err != nil && blocks[0].Compare(before) < 0 {
		blocks = blocks[1:]
	}
	return blocks
}

// newest is the key from which on a bucket holds its last n records.
func newest(b *bbolt.Bucket, n int) []byte {
	c := b.Cursor()
	from, _ := c.Last()
	for k := from; k != nil && n > 0; k, _ = c.Prev() {
		from = k
		n--
	}
	return from
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
	at = key{Boot: uint32(r.Uvarint()), Index: uint32(r.Uvarint())}
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
