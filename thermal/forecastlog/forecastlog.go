// Package forecastlog owns the stored forecasts: the window of each clutch as it was
// shown, one a day, so that a page can draw how it narrowed and a breeder can see
// how right it was. It must not know how a window is computed. Whoever hands over
// the open file keeps and closes it.
//
// In the file there is one bucket, "shown", with three things in it: "schema",
// "windows" (clutch, box and day with a zero byte between, to JSON) and "latches" (a group's
// name to JSON; a file by an older program has none).
package forecastlog

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

// schema is the layout that this program writes, and the newest that it reads.
const schema = 1

var (
	topBucket     = []byte("shown")
	schemaKey     = []byte("schema")
	windowsBucket = []byte("windows")
	latchesBucket = []byte("latches")
)

// Window is the window of a clutch's eggs in one box, as shown on one day.
type Window struct {
	Clutch string `json:"-"`
	Box    string `json:"-"`
	Day    string `json:"-"` // local to the station, as 2026-05-01

	At time.Time `json:"at"` // when it was computed
	// Eggs are whose window it is, where the box held others of the clutch that had felt
	// something else; empty: of all that waited there.
	Eggs      []string  `json:"eggs,omitempty"`
	CheckFrom time.Time `json:"check_from"`
	Likely    time.Time `json:"likely,omitzero"` // zero: any day now, or not at all
	LateAfter time.Time `json:"late_after"`
	Developed float64   `json:"developed"` // share of the way, 0..1
}

// key is the key of a window in the file. The order of keys is that of clutch, box and day.
func (w Window) key() ([]byte, error) {
	for _, s := range [...]string{w.Clutch, w.Box} {
		if s == "" || strings.Contains(s, "\x00") {
			return nil, fmt.Errorf("clutch %q in box %q cannot be stored under these names", w.Clutch, w.Box)
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

// Open finds the windows in an open file, or creates their bucket.
func Open(db DB) (*Store, error) {
	err := db.Update(func(tx *bolt.Tx) error {
		if b := tx.Bucket(topBucket); b != nil {
			v := b.Get(schemaKey)
			switch {
			case len(v) != 4 || b.Bucket(windowsBucket) == nil:
				return errors.New("the windows have no readable schema: restore the book from a backup")
			case binary.BigEndian.Uint32(v) > schema:
				return fmt.Errorf("the windows have schema %d and this program knows schemas up to %d: a newer version wrote them, run that version or restore an older backup", binary.BigEndian.Uint32(v), schema)
			}
			return nil
		}
		b, err := tx.CreateBucket(topBucket)
		if err != nil {
			return err
		}
		if err := b.Put(schemaKey, binary.BigEndian.AppendUint32(nil, schema)); err != nil {
			return err
		}
		_, err = b.CreateBucket(windowsBucket)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", db.Path(), err)
	}
	return &Store{db}, nil
}

// Keep stores windows, all or none; it is durable when it returns. The first window
// of a clutch, a box and a day stays.
func (s *Store) Keep(ws []Window) error {
	keys, values, err := encode(ws)
	if err != nil {
		return err
	}
	err = s.db.Update(func(tx *bolt.Tx) error {
		b := tx.Bucket(topBucket).Bucket(windowsBucket)
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
		return fmt.Errorf("keeping %d windows: %w", len(ws), err)
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
		c := tx.Bucket(topBucket).Bucket(windowsBucket).Cursor()
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
		return nil, fmt.Errorf("load %s: %w", s.db.Path(), err)
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
