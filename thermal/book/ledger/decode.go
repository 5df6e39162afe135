package ledger

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"

	"example.com/ootherm/thermal/book"
	bolt "go.etcd.io/bbolt"
)

// decode reads one record and holds it to the seq it is stored under.
func decode(p *book.Parser, seq, line []byte) (book.Entry, error) {
	if len(seq) != 8 {
		return book.Entry{}, &DamagedError{Err: fmt.Errorf("its seq is %d bytes, not 8", len(seq))}
	}
	n := binary.BigEndian.Uint64(seq)
	if line == nil {
		return book.Entry{}, &DamagedError{Seq: n, Err: errors.New("it is missing")}
	}
	e, err := p.Parse(line)
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

// name finds the key of a damaged record in the index.
func name(err error, byKey *bolt.Bucket) error {
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

// whole finds a key whose record is gone.
func whole(p *book.Parser, byKey *bolt.Bucket, n int) error {
	if byKey.Stats().KeyN == n {
		return nil
	}
	all := byKey.Tx().Bucket(top).Bucket(entries)
	return byKey.ForEach(func(k, seq []byte) error {
		if _, err := decode(p, seq, all.Get(seq)); err != nil {
			var d *DamagedError
			if errors.As(err, &d) && d.Key == "" {
				return &DamagedError{Seq: d.Seq, Key: string(k), Err: d.Err}
			}
			return err
		}
		return nil
	})
}
