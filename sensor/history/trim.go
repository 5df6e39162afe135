package history

import (
	"go.etcd.io/bbolt"
	bbolterrors "go.etcd.io/bbolt/errors"
)

var errMaxSize = bbolterrors.ErrMaxSizeReached

// The file is kept under this much of what it may hold, and brought this far
// back when it is past that. Trimming a little at a time writes little.
const (
	fullAt   = 0.90
	trimmed  = 0.89
	alloc    = 16 << 20 // the store grows its file by this much ahead
	overhead = 16 + 8   // of an element: its header and its key
)

// excess is by how many bytes the file is fuller than it should be.
func excess(tx *bbolt.Tx) int64 {
	db := tx.DB()
	room := int64(db.MaxSize)
	if room <= 0 {
		return 0
	}
	if room > alloc {
		room -= alloc
	}
	used := tx.Size() - int64(db.Stats().FreeAlloc)
	if used <= int64(fullAt*float64(room)) {
		return 0
	}
	return used - int64(trimmed*float64(room))
}

// trim deletes blocks until that many bytes are free, the oldest of all probes
// first. Summaries stay.
func trim(tx *bbolt.Tx, bytes int64) error {
	blocks := tx.Bucket(bucketBlocks)
	for bytes > 0 {
		var oldest *bbolt.Bucket
		var at key
		var size int64
		err := blocks.ForEachBucket(func(name []byte) error {
			b := blocks.Bucket(name)
			k, v := b.Cursor().First()
			if here, ok := readKey(k); ok && (oldest == nil || here.compare(at) < 0) {
				oldest, at, size = b, here, int64(len(v))+overhead
			}
			return nil
		})
		if err != nil {
			return err
		}
		if oldest == nil {
			return nil
		}
		if err := oldest.Delete(at.bytes()); err != nil {
			return err
		}
		bytes -= size
	}
	return nil
}
