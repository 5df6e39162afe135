// Package ledger keeps the breeder's book: entries in the order they arrived,
// each under its own key, never changed.
//
// In the file there is one bucket, "ledger", with three things in it: "schema",
// "entries" (seq, eight bytes big-endian, to the JSON of the entry as the book
// writes it) and "keys" (an entry's key to its seq). Whoever hands over the
// open file keeps and closes it.
package ledger

import (
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	"example.com/ootherm/thermal/book"
	bolt "go.etcd.io/bbolt"
)

// schema is the layout this program writes, and the newest it reads.
const schema = 1

var (
	top     = []byte("ledger")
	version = []byte("schema")
	entries = []byte("entries")
	keys    = []byte("keys")
)

// DB is the open file: a *bolt.DB, or one that does more with each change.
type DB interface {
	View(func(*bolt.Tx) error) error
	Update(func(*bolt.Tx) error) error
	Path() string
}

// Ledger is a ledger in a bbolt file. It may be used from any goroutine.
type Ledger struct{ db DB }

// Open finds the ledger in an open file, or begins one.
func Open(db DB) (*Ledger, error) {
	err := db.Update(func(tx *bolt.Tx) error {
		if b := tx.Bucket(top); b != nil {
			return known(b)
		}
		b, err := tx.CreateBucket(top)
		if err != nil {
			return err
		}
		if err := b.Put(version, binary.BigEndian.AppendUint32(nil, schema)); err != nil {
			return err
		}
		if _, err := b.CreateBucket(entries); err != nil {
			return err
		}
		_, err = b.CreateBucket(keys)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("ledger: open %s: %w", db.Path(), err)
	}
	return &Ledger{db}, nil
}

// NewerError says that a newer program wrote the book.
type NewerError struct{ Schema, Known uint32 }

func (e *NewerError) Error() string {
	return fmt.Sprintf("the book has schema %d and this program knows schemas up to %d: a newer version wrote it, run that version or restore an older backup", e.Schema, e.Known)
}

// DamagedError says which record cannot be read. Key is empty when it could not
// be told.
type DamagedError struct {
	Seq uint64
	Key string
	Err error
}

func (e *DamagedError) Error() string {
	key := e.Key
	if key == "" {
		key = "unknown"
	}
	return fmt.Sprintf("record %d (key %s) is damaged: %v: restore the book from a backup", e.Seq, key, e.Err)
}

func (e *DamagedError) Unwrap() error { return e.Err }

// ConflictError says that a key is taken by an entry with other content.
type ConflictError struct {
	Key string
	Seq uint64 // of the entry that has it
}

func (e *ConflictError) Error() string {
	return fmt.Sprintf("key %s is taken by an entry with other content (seq %d): give a new entry a new key", e.Key, e.Seq)
}

func known(b *bolt.Bucket) error {
	v := b.Get(version)
	if len(v) != 4 || b.Bucket(entries) == nil || b.Bucket(keys) == nil {
		return errors.New("the ledger has no readable schema: restore the book from a backup")
	}
	if n := binary.BigEndian.Uint32(v); n > schema {
		return &NewerError{Schema: n, Known: schema}
	}
	return nil
}

// Append stores entries in the order given, all or none, and gives them back
// with their seq and the time recorded. It is durable when it returns. An entry
// whose key is stored already, with the same content, is not stored again: what
// was stored comes back in its place. With other content the error is a
// [ConflictError].
func (l *Ledger) Append(es []book.Entry, recorded time.Time) ([]book.Entry, error) {
	parser := book.NewParser()
	var stored []book.Entry
	err := l.db.Update(func(tx *bolt.Tx) error {
		b := tx.Bucket(top)
		all, byKey := b.Bucket(entries), b.Bucket(keys)
		stored = make([]book.Entry, 0, len(es))
		for _, e := range es {
			if seq := byKey.Get([]byte(e.Key)); seq != nil {
				was, err := decode(parser, seq, all.Get(seq))
				if err != nil {
					return err
				}
				if !was.Same(e) {
					return &ConflictError{Key: e.Key, Seq: was.Seq}
				}
				stored = append(stored, was)
				continue
			}
			e, err := accept(parser, e, recorded)
			if err != nil {
				return err
			}
			if e.Seq, err = all.NextSequence(); err != nil {
				return err
			}
			line, err := e.MarshalJSON()
			if err != nil {
				return err
			}
			seq := binary.BigEndian.AppendUint64(nil, e.Seq)
			if err := all.Put(seq, line); err != nil {
				return err
			}
			if err := byKey.Put([]byte(e.Key), seq); err != nil {
				return err
			}
			stored = append(stored, e)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("ledger: append: %w", err)
	}
	return stored, nil
}

// accept gives the entry as it will be read again, or says why it could not be.
func accept(p *book.Parser, e book.Entry, recorded time.Time) (book.Entry, error) {
	if recorded.IsZero() {
		return book.Entry{}, errors.New("the time recorded is missing: give the station's own")
	}
	e.Seq, e.Recorded = 0, recorded
	line, err := e.MarshalJSON()
	if err != nil {
		return book.Entry{}, err
	}
	return p.Parse(line)
}

// Load reads every entry, in the order of seq. If a record cannot be read there
// are none, and the error is a [DamagedError].
func (l *Ledger) Load() ([]book.Entry, error) {
	parser := book.NewParser()
	var loaded []book.Entry
	err := l.db.View(func(tx *bolt.Tx) error {
		b := tx.Bucket(top)
		byKey := b.Bucket(keys)
		all := b.Bucket(entries)
		loaded = make([]book.Entry, 0, all.Sequence())
		err := all.ForEach(func(seq, line []byte) error {
			e, err := decode(parser, seq, line)
			if err != nil {
				return name(err, byKey)
			}
			if string(byKey.Get([]byte(e.Key))) != string(seq) {
				return &DamagedError{Seq: e.Seq, Key: e.Key, Err: errors.New("its key leads elsewhere")}
			}
			loaded = append(loaded, e)
			return nil
		})
		if err != nil {
			return err
		}
		return whole(parser, byKey, len(loaded))
	})
	if err != nil {
		return nil, fmt.Errorf("ledger: load %s: %w", l.db.Path(), err)
	}
	return loaded, nil
}
