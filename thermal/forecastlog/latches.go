package forecastlog

import (
	"encoding/json"
	"fmt"
	"time"

	bolt "go.etcd.io/bbolt"
)

// Latch is since when eggs are to be checked daily, and what the book said of them then.
type Latch struct {
	Since   time.Time `json:"since,omitzero"`
	Entries string    `json:"entries,omitempty"`
}

// KeepLatches replaces the latches, by the names of their groups; it is durable when it
// returns.
func (s *Store) KeepLatches(all map[string]Latch) error {
	err := s.db.Update(func(tx *bolt.Tx) error {
		top := tx.Bucket(topBucket)
		if top.Bucket(latchesBucket) != nil {
			if err := top.DeleteBucket(latchesBucket); err != nil {
				return err
			}
		}
		b, err := top.CreateBucket(latchesBucket)
		if err != nil {
			return err
		}
		for group, x := range all {
			value, err := json.Marshal(x)
			if err != nil {
				return fmt.Errorf("group %q: %w", group, err)
			}
			if err := b.Put([]byte(group), value); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("keeping %d latches: %w", len(all), err)
	}
	return nil
}

// Latches reads all latches, by the names of their groups.
func (s *Store) Latches() (map[string]Latch, error) {
	all := map[string]Latch{}
	err := s.db.View(func(tx *bolt.Tx) error {
		b := tx.Bucket(topBucket).Bucket(latchesBucket)
		if b == nil {
			return nil
		}
		return b.ForEach(func(group, value []byte) error {
			var x Latch
			if err := json.Unmarshal(value, &x); err != nil {
				return fmt.Errorf("the latch of %q is damaged: %w", group, err)
			}
			all[string(group)] = x
			return nil
		})
	})
	if err != nil {
		return nil, fmt.Errorf("load %s: %w", s.db.Path(), err)
	}
	return all, nil
}
