package history

import (
	"bytes"
	"errors"
	"iter"
	"maps"
	"slices"

	"go.etcd.io/bbolt"
)

// keyChecked holds the first block that no complete check has read, see [Store.Check].
var keyChecked = []byte("checked")

// checks is how far the blocks of the file are known to be sound.
type checks struct {
	upTo    key  // all blocks before it were read
	ended   bool // a check of this process read all that were stored when it began
	unsaved bool // the file has another mark
}

// Check reads the blocks that were stored since the last complete check, up to those that are
// stored when it begins. It yields an error for each: nil for a sound one, else a [*Damage]
// or an error that may pass. It holds no transaction while it yields. Where the loop ends by
// itself, the next Flush notes how far it came.
func (s *Store) Check() iter.Seq[error] {
	return func(yield func(error) bool) {
		s.mu.RLock()
		from, upTo, dated := s.checks.upTo, s.newest(), s.boots.dated
		names := slices.Sorted(maps.Keys(s.probes))
		s.mu.RUnlock()
		sound := true
		for _, name := range names {
			for err := range (probeReader{s, name}).check(from, upTo, dated) {
				sound = sound && (err == nil || errors.Is(err, errDamaged))
				if !yield(err) {
					return
				}
			}
		}
		if sound {
			s.mu.Lock()
			defer s.mu.Unlock()
			s.checks = checks{upTo: upTo, ended: true, unsaved: true}
		}
	}
}

// check reads the blocks of a probe from one to before another. It ends at an error that is no
// damage: the next reads would fail too.
func (r probeReader) check(from, upTo key, dated []Boot) iter.Seq[error] {
	return func(yield func(error) bool) {
		for next := from; ; {
			k, ok, err := r.nextKey(next)
			if !ok && err == nil || k.Compare(upTo) >= 0 {
				return
			}
			if err == nil {
				next = key{Boot: k.Boot, Index: k.Index + 1}
				_, err = r.rows(k)
			}
			if i, found := slices.BinarySearchFunc(dated, k.Boot, func(b Boot, n uint32) int { return int(int64(b.Number) - int64(n)) }); found && err != nil {
				err = placed{key: k, start: dated[i].Start}.damage(r.name, err)
			}
			if !yield(err) || err != nil && !errors.Is(err, errDamaged) {
				return
			}
		}
	}
}

// MarkChecked notes that the blocks stored since a complete check need none: this process
// wrote them and stops in order. The next Flush writes it. Without a complete check it does
// nothing.
func (s *Store) MarkChecked() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.checks.ended {
		s.checks.upTo, s.checks.unsaved = s.newest(), true
	}
}

// newest is the newest block that is being filled.
func (s *Store) newest() (k key) {
	for _, p := range s.probes {
		if len(p.open.rows) > 0 && p.open.key.Compare(k) > 0 {
			k = p.open.key
		}
	}
	return k
}

// writeChecks writes how far a complete check came, unless the file says so.
func writeChecks(tx *bbolt.Tx, upTo key) error {
	meta := tx.Bucket(bucketMeta)
	if bytes.Equal(meta.Get(keyChecked), upTo.Bytes()) {
		return nil
	}
	return meta.Put(keyChecked, upTo.Bytes())
}
