package history

import (
	"example.com/ootherm/sensor/history/stored"
	"go.etcd.io/bbolt"
	bbolterrors "go.etcd.io/bbolt/errors"
)

var errMaxSize = bbolterrors.ErrMaxSizeReached

// The file is kept under what it may hold less a reserve, a tenth and never less
// than 2 MB: a flush needs whole runs of free pages, of two days and more of each probe, and
// what a transaction frees is only free for the next. Trimming a little at a time writes little.
const (
	minReserveBytes = 2 << 20
	alloc           = 16 << 20 // a larger file grows by this much ahead of need
	overhead        = 16 + 8   // of an element: its header and its key
)

// excess is by how many bytes the file is fuller than it should be, and a
// hundredth of its room more.
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
	over := used - (room - max(room/10, minReserveBytes))
	if over <= 0 {
		return 0
	}
	return over + room/100
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
			if here, ok := stored.ReadKey(k); ok && (oldest == nil || here.Compare(at) < 0) {
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
		if err := oldest.Delete(at.Bytes()); err != nil {
			return err
		}
		bytes -= size
	}
	return nil
}
