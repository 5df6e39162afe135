package history

import (
	"encoding/binary"
	"errors"
	"fmt"

	"go.etcd.io/bbolt"
)

// Derived keeps values that were computed from the readings, so that a later start need not
// compute them again. A value can be missing at any time. Its methods are safe from any
// goroutine.
type Derived struct{ s *Store }

// DerivedOf gives what is kept beside a history. A history in memory keeps nothing.
func DerivedOf(s *Store) Derived { return Derived{s} }

// bucketDerived holds name -> number -> sealed value; files of earlier versions have none.
var bucketDerived = []byte("derived")

// Boots are the boots of the history: a value depends on their dates.
func (d Derived) Boots() []Boot { return d.s.Boots() }

// Load gives the values of a name with numbers from one to before another.
func (d Derived) Load(name string, from, to int64) (map[int64][]byte, error) {
	values := map[int64][]byte{}
	if d.s.db == nil {
		return values, nil
	}
	err := d.s.db.View(func(tx *bbolt.Tx) error {
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
			if body, err := unseal(v); err == nil {
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
func (d Derived) Keep(name string, values map[int64][]byte) error {
	if d.s.db == nil || len(values) == 0 {
		return nil
	}
	err := d.s.db.Update(func(tx *bbolt.Tx) error {
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
			if err := b.Put(derivedKey(n), seal(append([]byte(nil), v...), 0)); err != nil {
				return err
			}
		}
		return stamp(tx)
	})
	if err != nil {
		return fmt.Errorf("keeping what was computed of %s: %w", name, err)
	}
	return nil
}

func derivedKey(n int64) []byte { return binary.BigEndian.AppendUint64(nil, uint64(n)) }
