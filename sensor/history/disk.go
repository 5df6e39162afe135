package history

import (
	"encoding/binary"
	"fmt"
	"os"
	"strconv"

	"example.com/ootherm/sensor/history/derived"
	"example.com/ootherm/sensor/history/stored"
	"go.etcd.io/bbolt"
)

// Schema is the layout this version writes: 1 had neither days nor blocks of version 2. A file
// keeps what it holds of schema 1. A newer schema is refused.
const Schema = 2

// The buckets. Blocks, summaries and hours hold a bucket a probe, by key: a probe's
// blocks then lie together, and a new one always goes at the end.
var (
	bucketMeta      = []byte("history")
	bucketBoots     = []byte("boots")     // number -> Boot
	bucketTail      = []byte("tail")      // sequence -> the rows of one flush of one probe
	bucketBlocks    = []byte("blocks")    // probe -> key -> rows, see [stored.Blocks]
	bucketSummaries = []byte("summaries") // probe -> key -> sum
	bucketHours     = []byte("hours")     // probe -> key -> hours; files of earlier versions have none
	keySchema       = []byte("schema")
	keyCommit       = []byte("commit") // the last transaction, see Verify
)

// Open is the history in an open file, which it needs for itself. Damaged
// records are left out and counted; a newer schema is refused.
func Open(db *bbolt.DB, o Options) (*Store, error) {
	s := Memory(o)
	s.db = db
	db.AllocSize = 1 << 20 // how much the file grows at a time, bytes: three days of twelve probes
	var found bool
	err := db.View(func(tx *bbolt.Tx) error {
		meta := tx.Bucket(bucketMeta)
		if meta == nil {
			return nil
		}
		found = true
		n, err := strconv.Atoi(string(meta.Get(keySchema)))
		switch {
		case err != nil:
			return fmt.Errorf("its schema %q is no number", meta.Get(keySchema))
		case n > Schema:
			return fmt.Errorf("it was written by a newer version (schema %d, this one knows %d): install that version again, or move the file aside", n, Schema)
		}
		s.checks.upTo, _ = stored.ReadKey(meta.Get(keyChecked))
		return s.load(tx)
	})
	if err == nil && !found {
		err = db.Update(create)
	}
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", db.Path(), err)
	}
	return s, nil
}

func create(tx *bbolt.Tx) error {
	for _, name := range [][]byte{bucketBoots, bucketTail, bucketBlocks, bucketSummaries} {
		if _, err := tx.CreateBucketIfNotExists(name); err != nil {
			return err
		}
	}
	meta, err := tx.CreateBucketIfNotExists(bucketMeta)
	if err != nil {
		return err
	}
	if err := meta.Put(keySchema, []byte(strconv.Itoa(Schema))); err != nil {
		return err
	}
	return stamp(tx)
}

// DerivedOf gives the values that are kept beside a history. A history in memory keeps none.
func DerivedOf(s *Store) derived.Values { return derived.New(s.db, stamp) }

// stamp is the last thing in every transaction: its own number. It lies in a
// page that each one writes again, so that one whose pages the card never wrote
// is known from it.
func stamp(tx *bbolt.Tx) error {
	return tx.Bucket(bucketMeta).Put(keyCommit, binary.BigEndian.AppendUint64(nil, uint64(tx.ID())))
}

// load reads the boots, where each probe had got to, and the tail.
func (s *Store) load(tx *bbolt.Tx) error {
	for _, name := range [][]byte{bucketBoots, bucketTail, bucketBlocks, bucketSummaries} {
		if tx.Bucket(name) == nil {
			return fmt.Errorf("the bucket %q is missing", name)
		}
	}
	c := tx.Bucket(bucketBoots).Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		b, err := decodeBoot(k, v)
		if err != nil {
			s.losses.Damaged++
			continue
		}
		s.boots.all = append(s.boots.all, boot{Boot: b})
	}
	summaries, blocks := tx.Bucket(bucketSummaries), tx.Bucket(bucketBlocks)
	err := summaries.ForEachBucket(func(name []byte) error {
		s.loadTips(s.probe(string(name)), summaries.Bucket(name).Cursor(), blocks.Bucket(name))
		return nil
	})
	if err != nil {
		return err
	}
	return s.loadTail(tx.Bucket(bucketTail).Cursor())
}

// loadTips finds the last uptime in each boot, from the last boot backwards.
func (s *Store) loadTips(p *probe, c *bbolt.Cursor, blocks *bbolt.Bucket) {
	for k, v := c.Last(); k != nil; k, v = c.Prev() {
		at, ok := stored.ReadKey(k)
		if !ok {
			s.losses.Damaged++
			continue
		}
		tip := int64(at.Index) * spanMillis // at least this
		if sum, err := decodeSum(v); err == nil {
			tip = sum.to
		} else {
			s.losses.Damaged++
			if blocks != nil {
				if block, err := stored.Of(blocks).Get(at); err == nil {
					if rows, err := decode(block); err == nil {
						tip = rows[len(rows)-1].up
					}
				}
			}
		}
		p.tips[at.Boot] = tip
		s.boots.adopt(at.Boot)
		s.boots.lengthen(at.Boot, tip)
		c.Seek(key{Boot: at.Boot}.Bytes())
	}
	s.boots.updateDates()
}

func (s *Store) loadTail(c *bbolt.Cursor) error {
	for k, v := c.First(); k != nil; k, v = c.Next() {
		name, at, rows, err := decodeChunk(v)
		if err != nil {
			s.losses.Damaged++
			continue
		}
		s.boots.adopt(at.Boot)
		p := s.probe(name)
		for _, row := range rows {
			if err := s.take(p, at.Boot, row); err != nil {
				return err
			}
			p.open.flushed = len(p.open.rows)
		}
	}
	s.losses.Repeated, s.losses.Late = 0, 0
	s.boots.updateDates()
	return nil
}

// Bytes is the size of the file, or of the blocks in memory.
func (s *Store) Bytes() (int64, error) {
	if s.db == nil {
		s.mu.RLock()
		defer s.mu.RUnlock()
		return int64(s.pending), nil
	}
	info, err := os.Stat(s.db.Path())
	if err != nil {
		return 0, err
	}
	return info.Size(), nil
}
