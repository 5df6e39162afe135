// Package derived owns values that were computed from the readings of a history and are kept
// in its file, so that a later start need not compute them again. A value can be missing at any
// time. It must not know what a value means, or whether it is still right.
package derived

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"

	"go.etcd.io/bbolt"
)

// Values are those of one file. Their methods are safe from any goroutine.
type Values struct {
	db     *bbolt.DB
	finish func(*bbolt.Tx) error
}

// New gives the values in an open file, none for nil. Finish ends each transaction.
func New(db *bbolt.DB, finish func(*bbolt.Tx) error) Values { return Values{db, finish} }

// bucketDerived holds name -> number -> sealed value; files of earlier versions have none.
var bucketDerived = []byte("derived")

// Load gives the values of a name with numbers from one to before another.
func (d Values) Load(name string, from, to int64) (map[int64][]byte, error) {
	values := map[int64][]byte{}
	if d.db == nil {
		return values, nil
	}
	err := d.db.View(func(tx *bbolt.Tx) error {
		all := tx.Bucket(bucketDerived)
		if all == nil {
			return nil
		}
		b := all.Bucket([]byte(name))
		if b == nil {
			return nil
		}
		c := b.Cursor()
		for k, v := c.Seek(derivedKey(from)); len(k) == 8; k, v = c.Next() {
			n := int64(binary.BigEndian.Uint64(k))
			if n >= to {
				break
			}
			if body, ok := unsealed(v); ok {
				values[n] = append([]byte(nil), body...)
			}
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("reading what was computed of %s: %w", name, err)
	}
	return values, nil
}

// Keep makes values of a name durable, by their numbers, which are not negative. It replaces
// those that are there.
func (d Values) Keep(name string, values map[int64][]byte) error {
	if d.db == nil || len(values) == 0 {
		return nil
	}
	err := d.db.Update(func(tx *bbolt.Tx) error {
		all, err := tx.CreateBucketIfNotExists(bucketDerived)
		if err != nil {
			return err
		}
		b, err := all.CreateBucketIfNotExists([]byte(name))
		if err != nil {
			return err
		}
		for n, v := range values {
			if n < 0 {
				return errors.New("a number is negative")
			}
			if err := b.Put(derivedKey(n), sealed(v)); err != nil {
				return err
			}
		}
		return d.finish(tx)
	})
	if err != nil {
		return fmt.Errorf("keeping what was computed of %s: %w", name, err)
	}
	return nil
}

func derivedKey(n int64) []byte { return binary.BigEndian.AppendUint64(nil, uint64(n)) }

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// sealed is a copy of a value with its sum; unsealed checks and removes the sum.
func sealed(v []byte) []byte {
	return binary.LittleEndian.AppendUint32(append([]byte(nil), v...), crc32.Checksum(v, castagnoli))
}

func unsealed(v []byte) (body []byte, ok bool) {
	if len(v) < 4 {
		return nil, false
	}
	body = v[:len(v)-4]
	return body, crc32.Checksum(body, castagnoli) == binary.LittleEndian.Uint32(v[len(v)-4:])
}
