package outbox

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"go.etcd.io/bbolt"

	"example.com/ootherm/alert"
)

// schema is the version of the layout below.
//
//	outbox
//	  schema   -> "1"
//	  alarms   alarm key             -> alarm, JSON
//	  waiting  ID 0x00 sender        -> message, JSON
//	  sent     sender                -> when messages went, of the last hour, JSON
//	  taken    ID's key 0x00 sender  -> last sequence and times, JSON
const schema = "1"

var (
	root        = []byte("outbox")
	schemaKey   = []byte("schema")
	alarmsName  = []byte("alarms")
	waitingName = []byte("waiting")
	sentName    = []byte("sent")
	takenName   = []byte("taken")
)

// DB is the open file: a *bbolt.DB, or one that does more with each change.
type DB interface {
	View(func(*bbolt.Tx) error) error
	Update(func(*bbolt.Tx) error) error
	Path() string
}

// Store keeps alarms and messages in a bbolt file, in a bucket of its own. It is
// safe for concurrent use; every change is durable when its call returns nil.
type Store struct {
	db DB

	mu      sync.Mutex
	waiting []alert.Message // in the order to send them; nil: not read yet
	read    int             // the transaction that waiting was read after
}

// New uses an open file, and lays out its bucket when it has none.
func New(db DB) (*Store, error) {
	var found []byte
	err := db.View(func(tx *bbolt.Tx) error {
		if b := tx.Bucket(root); b != nil {
			found = bytes.Clone(b.Get(schemaKey))
		}
		return nil
	})
	if err == nil && found == nil {
		found = []byte(schema)
		err = db.Update(layOut)
	}
	if err != nil {
		return nil, fmt.Errorf("opening its bucket in %s: %w", db.Path(), err)
	}
	if string(found) != schema {
		return nil, fmt.Errorf("%s has layout %q, this version knows %q: use the version that wrote it, or a later one", db.Path(), found, schema)
	}
	return &Store{db: db}, nil
}

func layOut(tx *bbolt.Tx) error {
	b, err := tx.CreateBucketIfNotExists(root)
	if err != nil {
		return err
	}
	for _, name := range [][]byte{alarmsName, waitingName, sentName, takenName} {
		if _, err := b.CreateBucketIfNotExists(name); err != nil {
			return err
		}
	}
	return b.Put(schemaKey, []byte(schema))
}

// Load gives all that is stored: alarms by key, messages as they are to be sent.
func (s *Store) Load(ctx context.Context) ([]alert.Alarm, []alert.Message, error) {
	if err := ctx.Err(); err != nil {
		return nil, nil, fmt.Errorf("loading: %w", err)
	}
	var alarms []alert.Alarm
	var waiting []alert.Message
	err := s.db.View(func(tx *bbolt.Tx) error {
		b := tx.Bucket(root)
		if err := each(b.Bucket(alarmsName), &alarms); err != nil {
			return err
		}
		return each(b.Bucket(waitingName), &waiting)
	})
	if err != nil {
		return nil, nil, fmt.Errorf("loading from %s: %w", s.db.Path(), err)
	}
	inOrder(waiting)
	return alarms, waiting, nil
}

func each[T any](b *bbolt.Bucket, into *[]T) error {
	return b.ForEach(func(k, v []byte) error {
		var t T
		if err := json.Unmarshal(v, &t); err != nil {
			return fmt.Errorf("the record of %q is damaged: %w", k, err)
		}
		*into = append(*into, t)
		return nil
	})
}

// Waiting gives the messages not yet delivered, as they are to be sent. It reads the file only
// after a change, since the station asks at every reading.
func (s *Store) Waiting(ctx context.Context) ([]alert.Message, error) {
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("reading what waits: %w", err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	err := s.db.View(func(tx *bbolt.Tx) error {
		if s.waiting != nil && s.read == tx.ID() {
			return nil
		}
		waiting := []alert.Message{}
		if err := each(tx.Bucket(root).Bucket(waitingName), &waiting); err != nil {
			return err
		}
		inOrder(waiting)
		s.waiting, s.read = waiting, tx.ID()
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("reading what waits in %s: %w", s.db.Path(), err)
	}
	return slices.Clone(s.waiting), nil
}

// Alarm gives one alarm by its key, and whether it is stored.
func (s *Store) Alarm(_ context.Context, key string) (alert.Alarm, bool, error) {
	var a alert.Alarm
	has, err := s.get(alarmsName, key, &a)
	if err != nil {
		return alert.Alarm{}, false, err
	}
	return a, has, nil
}

// Sent gives when messages went to a sender, of the last hour at least.
func (s *Store) Sent(_ context.Context, sender string) ([]time.Time, error) {
	var sent []time.Time
	if _, err := s.get(sentName, sender, &sent); err != nil {
		return nil, err
	}
	return sent, nil
}

// Last is the last message about a thing for a sender, and whether there was one.
func (s *Store) Last(_ context.Context, about, sender string) (Mark, bool, error) {
	var last Mark
	has, err := s.get(takenName, string(pair(about, sender)), &last)
	if err != nil {
		return Mark{}, false, err
	}
	return last, has, nil
}

// get reads one record, and says whether there is one.
func (s *Store) get(bucket []byte, key string, into any) (has bool, err error) {
	err = s.db.View(func(tx *bbolt.Tx) error {
		v := tx.Bucket(root).Bucket(bucket).Get([]byte(key))
		if has = v != nil; !has {
			return nil
		}
		return json.Unmarshal(v, into)
	})
	if err != nil {
		return false, fmt.Errorf("the record %s of %q in %s: %w", bucket, key, s.db.Path(), err)
	}
	return has, nil
}

// Commit stores alarms and messages in one transaction. About one alarm and for
// one sender, sequences must rise; see [ReuseError].
func (s *Store) Commit(ctx context.Context, alarms []alert.Alarm, messages []alert.Message) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("committing: %w", err)
	}
	err := s.db.Update(func(tx *bbolt.Tx) error {
		b := tx.Bucket(root)
		for _, a := range alarms {
			if err := put(b.Bucket(alarmsName), []byte(a.Key.String()), a); err != nil {
				return err
			}
		}
		for _, m := range messages {
			if err := take(b, m); err != nil {
				return err
			}
		}
		return nil
	})
	var reuse *ReuseError
	if err != nil && !errors.As(err, &reuse) {
		return fmt.Errorf("committing to %s: %w", s.db.Path(), err)
	}
	return err
}

// Forget takes alarms away by their keys, with the count of their messages.
// Messages of theirs that wait are still delivered.
func (s *Store) Forget(ctx context.Context, alarms []string) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("forgetting alarms: %w", err)
	}
	err := s.db.Update(func(tx *bbolt.Tx) error {
		b := tx.Bucket(root)
		for _, key := range alarms {
			if err := b.Bucket(alarmsName).Delete([]byte(key)); err != nil {
				return err
			}
			var marks [][]byte
			c, prefix := b.Bucket(takenName).Cursor(), pair(key, "")
			for k, _ := c.Seek(prefix); bytes.HasPrefix(k, prefix); k, _ = c.Next() {
				marks = append(marks, bytes.Clone(k))
			}
			for _, k := range marks {
				if err := b.Bucket(takenName).Delete(k); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("forgetting alarms in %s: %w", s.db.Path(), err)
	}
	return nil
}

func take(b *bbolt.Bucket, m alert.Message) error {
	thing, sequence, err := split(m.ID)
	if err != nil {
		return err
	}
	taken, place := b.Bucket(takenName), pair(thing, m.Sender)
	var last Mark
	if v := taken.Get(place); v != nil {
		if err := json.Unmarshal(v, &last); err != nil {
			return fmt.Errorf("the record of %q is damaged: %w", place, err)
		}
	}
	if ok, err := fresh(m, sequence, last); err != nil || !ok {
		return err
	}
	if err := put(taken, place, Mark{sequence, m.At, last.Delivered}); err != nil {
		return err
	}
	return put(b.Bucket(waitingName), pair(m.ID, m.Sender), m)
}

// Done notes what became of a message; [ErrNotWaiting] when it does not wait.
func (s *Store) Done(ctx context.Context, id string, o alert.Outcome) error {
	if err := ctx.Err(); err != nil {
		return fmt.Errorf("message %s: %w", id, err)
	}
	err := s.db.Update(func(tx *bbolt.Tx) error {
		top := tx.Bucket(root)
		b := top.Bucket(waitingName)
		var of []alert.Message
		prefix := pair(id, "")
		c := b.Cursor()
		for k, v := c.Seek(prefix); bytes.HasPrefix(k, prefix); k, v = c.Next() {
			var m alert.Message
			if err := json.Unmarshal(v, &m); err != nil {
				return fmt.Errorf("the record of %q is damaged: %w", k, err)
			}
			if o.Sender == "" || o.Sender == m.Sender {
				of = append(of, m)
			}
		}
		if len(of) == 0 {
			return ErrNotWaiting
		}
		for _, m := range of {
			next, keep, err := after(m, o)
			switch {
			case err != nil:
				return err
			case keep:
				err = put(b, pair(id, m.Sender), next)
			default:
				err = errors.Join(b.Delete(pair(id, m.Sender)), wentOut(top, m, o))
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("noting message %s as %s: %w", id, o.Result, err)
	}
	return nil
}

// wentOut keeps the time of a delivery.
func wentOut(top *bbolt.Bucket, m alert.Message, o alert.Outcome) error {
	if o.Result != alert.Delivered || m.Sender == "" {
		return nil
	}
	b := top.Bucket(sentName)
	var sent []time.Time
	if v := b.Get([]byte(m.Sender)); v != nil {
		if err := json.Unmarshal(v, &sent); err != nil {
			return fmt.Errorf("the delivery times of %q are damaged: %w", m.Sender, err)
		}
	}
	if err := put(b, []byte(m.Sender), delivery(sent, o.At)); err != nil {
		return err
	}
	taken, place := top.Bucket(takenName), pair(about(m.ID), m.Sender)
	v := taken.Get(place)
	if v == nil { // its alarm was forgotten meanwhile
		return nil
	}
	var last Mark
	if err := json.Unmarshal(v, &last); err != nil {
		return fmt.Errorf("the record of %q is damaged: %w", place, err)
	}
	last.Delivered = o.At
	return put(taken, place, last)
}

func pair(a, b string) []byte { return []byte(a + "\x00" + b) }

func put(b *bbolt.Bucket, k []byte, v any) error {
	j, err := json.Marshal(v)
	if err != nil {
		return err
	}
	return b.Put(k, j)
}
