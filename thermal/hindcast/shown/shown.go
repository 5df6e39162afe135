// Package shown keeps the windows that were shown: each clutch's, one a day, so
// that a page can draw how they narrowed and a breeder can see how right they were.
//
// In the file there is one bucket, "shown", with two things in it: "schema" and
// "windows" (clutch, box and day with a zero byte between, to JSON). Whoever hands
// over the open file keeps and closes it.
package shown

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	bolt "go.etcd.io/bbolt"
)

// schema is the layout this program writes, and the newest it reads.
const schema = 1

var (
	top     = []byte("shown")
	version = []byte("schema")
	windows = []byte("windows")
)

// Window is what was said of a clutch's eggs in one box on one day.
type Window struct {
	Clutch string `json:"-"`
	Box    string `json:"-"`
	Day    string `json:"-"` // where the station is, as 2026-05-01

	At        time.Time `json:"at"` // when it was reckoned
	CheckFrom time.Time `json:"check_from"`
	Likely    time.Time `json:"likely"`
	LateAfter time.Time `json:"late_after"`
	Developed float64   `json:"developed"` // share of the way, 0..1
}

// key is where a window is kept. The order of keys is that of clutch, box and day.
func (w Window) key() ([]byte, error) {
	for _, s := range [...]string{w.Clutch, w.Box} {
		if s == "" || strings.Contains(s, "\x00") {
			return nil, fmt.Errorf("clutch %q in box %q cannot be kept under these names", w.Clutch, w.Box)
		}
	}
	if _, err := time.Parse(time.DateOnly, w.Day); err != nil {
		return nil, fmt.Errorf("clutch %s: %q is no day such as 2026-05-01", w.Clutch, w.Day)
	}
	return []byte(w.Clutch + "\x00" + w.Box + "\x00" + w.Day), nil
}

// DB is the open file: a *bolt.DB, or one that does more with each change.
type DB interface {
	View(func(*bolt.Tx) error) error
	Update(func(*bolt.Tx) error) error
	Path() string
}

// Store is the windows in a bbolt file. It may be used from any goroutine.
type Store struct{ db DB }

// Open finds the windows in an open file, or begins them.
func Open(db DB) (*Store, error) {
	err := db.Update(func(tx *bolt.Tx) error {
		if b := tx.Bucket(top); b != nil {
			v := b.Get(version)
			switch {
			case len(v) != 4 || b.Bucket(windows) == nil:
				return errors.New("the windows have no readable schema: restore the book from a backup")
			case binary.BigEndian.Uint32(v) > schema:
				return fmt.Errorf("the windows have schema %d and this program knows schemas up to %d: a newer version wrote them, run that version or restore an older backup", binary.BigEndian.Uint32(v), schema)
			}
			return nil
		}
		b, err := tx.CreateBucket(top)
		if err != nil {
			return err
		}
		if err := b.Put(version, binary.BigEndian.AppendUint32(nil, schema)); err != nil {
			return err
		}
		_, err = b.CreateBucket(windows)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("shown: open %s: %w", db.Path(), err)
	}
	return &Store{db}, nil
}

// Keep keeps windows, all or none; it is durable when it returns. The first window
// of a clutch, a box and a day is the one that stays.
func (s *Store) Keep(ws []Window) error {
	keys, values, err := encode(ws)
	if err != nil {
		return fmt.Errorf("shown: %w", err)
	}
	err = s.db.Update(func(tx *bolt.Tx) error {
		b := tx.Bucket(top).Bucket(windows)
		for i, key := range keys {
			if b.Get(key) != nil {
				continue
			}
			if err := b.Put(key, values[i]); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("shown: keeping %d windows: %w", len(ws), err)
	}
	return nil
}

func encode(ws []Window) (keys, values [][]byte, err error) {
	for _, w := range ws {
		key, err := w.key()
		if err != nil {
			return nil, nil, err
		}
		value, err := json.Marshal(w)
		if err != nil {
			return nil, nil, fmt.Errorf("clutch %s: %w", w.Clutch, err)
		}
		keys, values = append(keys, key), append(values, value)
	}
	return keys, values, nil
}

// Load reads the windows of one clutch, or of all for an empty name, in the order
// of clutch, box and day. If one cannot be read there are none.
func (s *Store) Load(clutch string) ([]Window, error) {
	var all []Window
	err := s.db.View(func(tx *bolt.Tx) error {
		from := prefix(clutch)
		c := tx.Bucket(top).Bucket(windows).Cursor()
		for k, v := c.Seek(from); k != nil && bytes.HasPrefix(k, from); k, v = c.Next() {
			w, err := decode(k, v)
			if err != nil {
				return err
			}
			all = append(all, w)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("shown: load %s: %w", s.db.Path(), err)
	}
	return all, nil
}

func prefix(clutch string) []byte {
	if clutch == "" {
		return nil
	}
	return []byte(clutch + "\x00")
}

func decode(key, value []byte) (Window, error) {
	parts := strings.Split(string(key), "\x00")
	if len(parts) != 3 {
		return Window{}, fmt.Errorf("the record %q is damaged: restore the book from a backup", key)
	}
	w := Window{Clutch: parts[0], Box: parts[1], Day: parts[2]}
	if err := json.Unmarshal(value, &w); err != nil {
		return Window{}, fmt.Errorf("the window of clutch %s in box %s on %s is damaged: %w: restore the book from a backup", w.Clutch, w.Box, w.Day, err)
	}
	return w, nil
}
