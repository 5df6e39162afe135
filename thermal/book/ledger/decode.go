package ledger

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"

	"example.com/ootherm/thermal/book"
	bolt "go.etcd.io/bbolt"
)

// decode reads one record, which must have the seq under which it is stored.
func decode(seq, line []byte) (book.Entry, error) {
	if len(seq) != 8 {
		return book.Entry{}, &DamagedError{Err: fmt.Errorf("its seq is %d bytes, not 8", len(seq))}
	}
	n := binary.BigEndian.Uint64(seq)
	if line == nil {
		return book.Entry{}, &DamagedError{Seq: n, Err: errors.New("it is missing")}
	}
	e, err := book.Parse(line)
	if err != nil {
		return book.Entry{}, &DamagedError{Seq: n, Err: err}
	}
	if e.Seq != n {
		return book.Entry{}, &DamagedError{Seq: n, Key: e.Key, Err: fmt.Errorf("it says seq %d", e.Seq)}
	}
	if e.Recorded.IsZero() {
		return book.Entry{}, &DamagedError{Seq: n, Key: e.Key, Err: errors.New("it does not say when it was recorded")}
	}
	return e, nil
}

// withKey adds the key from the index to the error of a damaged record.
func withKey(err error, byKey *bolt.Bucket) error {
	var d *DamagedError
	if !errors.As(err, &d) || d.Key != "" {
		return err
	}
	want := binary.BigEndian.AppendUint64(nil, d.Seq)
	c := byKey.Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		if bytes.Equal(v, want) {
			return &DamagedError{Seq: d.Seq, Key: string(k), Err: d.Err}
		}
	}
	return err
}

// checkComplete finds a key whose record is missing.
func checkComplete(byKey *bolt.Bucket, n int) error {
	if byKey.Stats().KeyN == n {
		return nil
	}
	all := byKey.Tx().Bucket(topBucket).Bucket(entriesBucket)
	return byKey.ForEach(func(k, seq []byte) error {
		if _, err := decode(seq, all.Get(seq)); err != nil {
			var d *DamagedError
			if errors.As(err, &d) && d.Key == "" {
				return &DamagedError{Seq: d.Seq, Key: string(k), Err: d.Err}
			}
			return err
		}
		return nil
	})
}
