// Package ledger owns the stored book: entries in the order in which they arrived,
// each under its own key, never changed. It must not know the rules by which
// entries make a book. Whoever hands over the open file keeps and closes it.
//
// In the file there is one bucket, "ledger", with three things in it: "schema",
// "entries" (seq, eight bytes big-endian, to the JSON of the entry as the book
// writes it) and "keys" (an entry's key to its seq).
package ledger

import (
	"encoding/binary"
	"errors"
	"fmt"
	"time"

	"example.com/ootherm/thermal/book"
	bolt "go.etcd.io/bbolt"
)

// schema is the layout that this program writes, and the newest that it reads.
const schema = 1

var (
	topBucket     = []byte("ledger")
	schemaKey     = []byte("schema")
	entriesBucket = []byte("entries")
	keysBucket    = []byte("keys")
)

// DB is the open file: a *bolt.DB, or one that does more with each change.
type DB interface {
	View(func(*bolt.Tx) error) error
	Update(func(*bolt.Tx) error) error
	Path() string
}

// Ledger is a ledger in a bbolt file. It may be used from any goroutine.
type Ledger struct{ db DB }

// Open finds the ledger in an open file, or creates it. The error is a
// [NewerError] when a newer program wrote it.
func Open(db DB) (*Ledger, error) {
	err := db.Update(func(tx *bolt.Tx) error {
		if b := tx.Bucket(topBucket); b != nil {
			return checkSchema(b)
		}
		b, err := tx.CreateBucket(topBucket)
		if err != nil {
			return err
		}
		if err := b.Put(schemaKey, binary.BigEndian.AppendUint32(nil, schema)); err != nil {
			return err
		}
		if _, err := b.CreateBucket(entriesBucket); err != nil {
			return err
		}
		_, err = b.CreateBucket(keysBucket)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", db.Path(), err)
	}
	return &Ledger{db}, nil
}

func checkSchema(b *bolt.Bucket) error {
	v := b.Get(schemaKey)
	if len(v) != 4 || b.Bucket(entriesBucket) == nil || b.Bucket(keysBucket) == nil {
		return errors.New("the ledger has no readable schema: restore the book from a backup")
	}
	if n := binary.BigEndian.Uint32(v); n > schema {
		return &NewerError{Schema: n, Known: schema}
	}
	return nil
}

// Append stores entries in the order given, all or none, and returns them with
// their seq and the time recorded. It is durable when it returns. An entry whose
// key is stored already, with the same content, is not stored again: the stored
// one is returned in its place. With other content the error is a
// [ConflictError].
func (l *Ledger) Append(entries []book.Entry, recorded time.Time) ([]book.Entry, error) {
	var stored []book.Entry
	err := l.db.Update(func(tx *bolt.Tx) error {
		w := writer{all: tx.Bucket(topBucket).Bucket(entriesBucket), byKey: tx.Bucket(topBucket).Bucket(keysBucket), recorded: recorded}
		stored = make([]book.Entry, 0, len(entries))
		for _, e := range entries {
			s, err := w.append(e)
			if err != nil {
				return err
			}
			stored = append(stored, s)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("append: %w", err)
	}
	return stored, nil
}

// writer appends entries in one transaction.
type writer struct {
	all, byKey *bolt.Bucket
	recorded   time.Time
}

func (w *writer) append(e book.Entry) (book.Entry, error) {
	if seq := w.byKey.Get([]byte(e.Key)); seq != nil {
		there, err := decode(seq, w.all.Get(seq))
		if err != nil {
			return book.Entry{}, err
		}
		return there, checkSame(there, e)
	}
	e, err := normalize(e, w.recorded)
	if err != nil {
		return book.Entry{}, err
	}
	if e.Seq, err = w.all.NextSequence(); err != nil {
		return book.Entry{}, err
	}
	line, err := e.MarshalJSON()
	if err != nil {
		return book.Entry{}, err
	}
	seq := binary.BigEndian.AppendUint64(nil, e.Seq)
	return e, errors.Join(w.all.Put(seq, line), w.byKey.Put([]byte(e.Key), seq))
}

// checkSame returns a [ConflictError] when an entry has other content than the one
// that is stored under its key.
func checkSame(there, e book.Entry) error {
	if there.Same(e) {
		return nil
	}
	return &ConflictError{Key: e.Key, Seq: there.Seq}
}

// normalize returns the entry as it will be read again. It is an error when it
// cannot be read again, or has no time recorded.
func normalize(e book.Entry, recorded time.Time) (book.Entry, error) {
	if recorded.IsZero() {
		return book.Entry{}, errors.New("the time recorded is missing: give the station's own")
	}
	e.Seq, e.Recorded = 0, recorded
	line, err := e.MarshalJSON()
	if err != nil {
		return book.Entry{}, err
	}
	return book.Parse(line)
}

// Load reads every entry, in the order of seq. If a record cannot be read there
// are none, and the error is a [DamagedError].
func (l *Ledger) Load() ([]book.Entry, error) {
	var loaded []book.Entry
	err := l.db.View(func(tx *bolt.Tx) error {
		all, byKey := tx.Bucket(topBucket).Bucket(entriesBucket), tx.Bucket(topBucket).Bucket(keysBucket)
		loaded = make([]book.Entry, 0, all.Sequence())
		err := all.ForEach(func(seq, line []byte) error {
			e, err := decode(seq, line)
			if err != nil {
				return withKey(err, byKey)
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
		return checkComplete(byKey, len(loaded))
	})
	if err != nil {
		return nil, fmt.Errorf("load %s: %w", l.db.Path(), err)
	}
	return loaded, nil
}
