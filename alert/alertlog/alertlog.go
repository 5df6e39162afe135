// Package alertlog keeps the log of alarms: when each was raised, acknowledged and
// ended. It answers which alarms lasted in a span of time. It must not know how an
// alarm is raised or how a message is sent; it only follows [alert.Event] values.
//
// The log has one bucket in the file, "diary", with three records in it: "schema",
// "alarms" (the begin and the alarm's key with a zero byte between, to JSON) and "open"
// (an alarm's key to the key of its record, while it lasts). The caller keeps and
// closes the file.
package alertlog

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"example.com/ootherm/alert"
	bolt "go.etcd.io/bbolt"
)

// schemaVersion is the layout that this program writes, and the newest that it reads.
const schemaVersion = 1

var (
	logBucket     = []byte("diary")
	schemaKey     = []byte("schema")
	recordsBucket = []byte("alarms")
	openBucket    = []byte("open")
)

// Occurrence is one time that an alarm was raised.
type Occurrence struct {
	Key    alert.Key `json:"key"`
	Began  time.Time `json:"began"`           // when the value passed the limit
	Raised time.Time `json:"raised"`          // when the on-delay was over
	Seen   time.Time `json:"seen,omitzero"`   // when a person acknowledged it; zero: not yet
	Ended  time.Time `json:"ended,omitzero"`  // zero: it lasts
	Limit  *float64  `json:"limit,omitempty"` // in the unit of the alarm's kind; nil where none is known
	Peak   *float64  `json:"peak,omitempty"`  // the worst value; nil where none is known
}

// DB is the open file: a *bolt.DB, or a wrapper that does more with each change.
type DB interface {
	View(func(*bolt.Tx) error) error
	Update(func(*bolt.Tx) error) error
	Path() string
}

// Store is the log in a bbolt file. Any goroutine may use it.
type Store struct{ db DB }

// Open opens the log in an open file and creates it where there is none. A log of a
// newer schema is an error that says what to do.
func Open(db DB) (*Store, error) {
	err := db.Update(func(tx *bolt.Tx) error {
		if b := tx.Bucket(logBucket); b != nil {
			v := b.Get(schemaKey)
			switch {
			case len(v) != 4 || b.Bucket(recordsBucket) == nil || b.Bucket(openBucket) == nil:
				return errors.New("the alarm log has no readable schema: restore the records from a backup")
			case binary.BigEndian.Uint32(v) > schemaVersion:
				return fmt.Errorf("the alarm log has schema %d and this program knows schemas up to %d: a newer version wrote it, run that version or restore an older backup", binary.BigEndian.Uint32(v), schemaVersion)
			}
			return nil
		}
		b, err := tx.CreateBucket(logBucket)
		if err != nil {
			return err
		}
		for _, name := range [][]byte{recordsBucket, openBucket} {
			if _, err := b.CreateBucket(name); err != nil {
				return err
			}
		}
		return b.Put(schemaKey, binary.BigEndian.AppendUint32(nil, schemaVersion))
	})
	if err != nil {
		return nil, fmt.Errorf("opening the alarm log in %s: %w", db.Path(), err)
	}
	return &Store{db}, nil
}

// Keep records events, in their order, all or none. They are durable when it returns.
// An alarm that a person hides (shelved, out of service) lasts until it is over.
func (s *Store) Keep(events []alert.Event) error {
	err := s.db.Update(func(tx *bolt.Tx) error {
		for _, e := range events {
			if err := keep(tx.Bucket(logBucket), e); err != nil {
				return fmt.Errorf("alarm %s: %w", e.Key, err)
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("recording %d events of alarms: %w", len(events), err)
	}
	return nil
}

// keep applies one event to the log's bucket.
func keep(b *bolt.Bucket, e alert.Event) error {
	all, open := b.Bucket(recordsBucket), b.Bucket(openBucket)
	name := []byte(e.Key.String())
	at := bytes.Clone(open.Get(name))
	var a Occurrence
	if at != nil {
		if err := json.Unmarshal(all.Get(at), &a); err != nil {
			return fmt.Errorf("its record is damaged: %w", err)
		}
	}
	over := e.To == alert.Normal || e.To == alert.Returned
	switch {
	case at == nil && e.To != alert.Active:
		return nil // hidden from the start, or it began before the log did
	case at == nil:
		began := e.Began
		if began.IsZero() || began.After(e.At) {
			began = e.At
		}
		a = Occurrence{Key: e.Key, Began: began.UTC(), Raised: e.At.UTC(), Limit: finite(e.Limit)}
		at = append(binary.BigEndian.AppendUint64(nil, uint64(began.UnixNano())), append([]byte{0}, name...)...)
		if err := open.Put(name, at); err != nil {
			return err
		}
	case e.To == alert.Acknowledged && a.Seen.IsZero():
		a.Seen = e.At.UTC()
	case over:
		a.Ended = e.At.UTC()
		if err := open.Delete(name); err != nil {
			return err
		}
	}
	if peak := finite(e.Peak); peak != nil {
		a.Peak = peak
	}
	body, err := json.Marshal(a)
	if err != nil {
		return err
	}
	return all.Put(at, body)
}

// finite is a pointer to a value; nil for NaN and infinities, which JSON cannot hold.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// Between gives the occurrences that lasted at some time in [from, to), in the order in
// which they began. Where one record cannot be read it gives an error and none.
func (s *Store) Between(from, to time.Time) ([]Occurrence, error) {
	all := []Occurrence{}
	err := s.db.View(func(tx *bolt.Tx) error {
		c := tx.Bucket(logBucket).Bucket(recordsBucket).Cursor()
		for k, v := c.First(); k != nil; k, v = c.Next() {
			var a Occurrence
			if err := json.Unmarshal(v, &a); err != nil {
				return fmt.Errorf("a record is damaged: %w: restore the records from a backup", err)
			}
			if !a.Began.Before(to) {
				return nil
			}
			if a.Ended.IsZero() || a.Ended.After(from) {
				all = append(all, a)
			}
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("reading the alarm log in %s: %w", s.db.Path(), err)
	}
	return all, nil
}
