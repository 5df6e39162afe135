// Package diary keeps what alarms there were: when each began, was raised, was
// seen and ended, so that a person can look back at hours that went wrong.
//
// In the file there is one bucket, "diary", with three things in it: "schema",
// "alarms" (when it began and the alarm's key with a zero byte between, to JSON)
// and "open" (an alarm's key to that of its record, while it lasts). Whoever hands
// over the open file keeps and closes it.
package diary

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

// schema is the layout this program writes, and the newest it reads.
const schema = 1

var (
	top     = []byte("diary")
	version = []byte("schema")
	records = []byte("alarms")
	running = []byte("open")
)

// Alarm is one time that an alarm was raised.
type Alarm struct {
	Key    alert.Key `json:"key"`
	Began  time.Time `json:"began"`           // when the value passed the limit
	Raised time.Time `json:"raised"`          // when it was told
	Seen   time.Time `json:"seen,omitzero"`   // when somebody said they saw it; zero: nobody has
	Ended  time.Time `json:"ended,omitzero"`  // zero: it lasts
	Limit  *float64  `json:"limit,omitempty"` // in what the alarm measures
	Peak   *float64  `json:"peak,omitempty"`  // the worst of it; nil where none is known
}

// DB is the open file: a *bolt.DB, or one that does more with each change.
type DB interface {
	View(func(*bolt.Tx) error) error
	Update(func(*bolt.Tx) error) error
	Path() string
}

// Store is the diary in a bbolt file. It may be used from any goroutine.
type Store struct{ db DB }

// Open finds the diary in an open file, or begins it.
func Open(db DB) (*Store, error) {
	err := db.Update(func(tx *bolt.Tx) error {
		if b := tx.Bucket(top); b != nil {
			v := b.Get(version)
			switch {
			case len(v) != 4 || b.Bucket(records) == nil || b.Bucket(running) == nil:
				return errors.New("the alarms' diary has no readable schema: restore the records from a backup")
			case binary.BigEndian.Uint32(v) > schema:
				return fmt.Errorf("the alarms' diary has schema %d and this program knows schemas up to %d: a newer version wrote it, run that version or restore an older backup", binary.BigEndian.Uint32(v), schema)
			}
			return nil
		}
		b, err := tx.CreateBucket(top)
		if err != nil {
			return err
		}
		for _, name := range [][]byte{records, running} {
			if _, err := b.CreateBucket(name); err != nil {
				return err
			}
		}
		return b.Put(version, binary.BigEndian.AppendUint32(nil, schema))
	})
	if err != nil {
		return nil, fmt.Errorf("diary: open %s: %w", db.Path(), err)
	}
	return &Store{db}, nil
}

// Keep follows events, in their order, all or none; it is durable when it returns.
// What a person hid (quiet, switched off) goes on until it is over.
func (s *Store) Keep(events []alert.Event) error {
	err := s.db.Update(func(tx *bolt.Tx) error {
		for _, e := range events {
			if err := keep(tx.Bucket(top), e); err != nil {
				return fmt.Errorf("alarm %s: %w", e.Key, err)
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("diary: keeping %d events: %w", len(events), err)
	}
	return nil
}

func keep(b *bolt.Bucket, e alert.Event) error {
	all, open := b.Bucket(records), b.Bucket(running)
	name := []byte(e.Key.String())
	at := bytes.Clone(open.Get(name))
	var a Alarm
	if at != nil {
		if err := json.Unmarshal(all.Get(at), &a); err != nil {
			return fmt.Errorf("its record is damaged: %w", err)
		}
	}
	over := e.To == alert.Normal || e.To == alert.Returned
	switch {
	case at == nil && e.To != alert.Active:
		return nil // hidden from the start, or its beginning is from before the diary
	case at == nil:
		began := e.Began
		if began.IsZero() || began.After(e.At) {
			began = e.At
		}
		a = Alarm{Key: e.Key, Began: began.UTC(), Raised: e.At.UTC(), Limit: number(e.Limit)}
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
	if peak := number(e.Peak); peak != nil {
		a.Peak = peak
	}
	body, err := json.Marshal(a)
	if err != nil {
		return err
	}
	return all.Put(at, body)
}

func number(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// Between gives the alarms that lasted at some time from one moment on and before
// another, in the order in which they began. If one cannot be read there are none.
func (s *Store) Between(from, to time.Time) ([]Alarm, error) {
	all := []Alarm{}
	err := s.db.View(func(tx *bolt.Tx) error {
		c := tx.Bucket(top).Bucket(records).Cursor()
		for k, v := c.First(); k != nil; k, v = c.Next() {
			var a Alarm
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
		return nil, fmt.Errorf("diary: reading %s: %w", s.db.Path(), err)
	}
	return all, nil
}
