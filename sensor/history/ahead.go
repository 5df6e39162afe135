package history

import (
	"bytes"

	"example.com/ootherm/sensor/history/stored"
	"go.etcd.io/bbolt"
)

// blocksAhead is how many blocks are looked up in one transaction (our choice): each costs some
// microseconds, and a season has 800.
const blocksAhead = 64

// blockCursor finds the blocks of a probe in their order. Blocks that are in the file alone do
// not move, so it looks some of them up ahead.
type blockCursor struct {
	r     probeReader
	ahead []storedBlock
}

// storedBlock is the key of a block in the file, and its summary as it is stored.
type storedBlock struct {
	key
	summary []byte
}

// next is the first block at or after k. Its summary is nil where it is not looked up yet.
func (c *blockCursor) next(k key) (found storedBlock, ok bool, err error) {
	for len(c.ahead) > 0 && c.ahead[0].Compare(k) < 0 {
		c.ahead = c.ahead[1:]
	}
	if len(c.ahead) == 0 {
		if err := c.lookAhead(k); err != nil {
			return storedBlock{}, false, err
		}
	}
	if len(c.ahead) > 0 {
		return c.ahead[0], true, nil
	}
	found.key, ok, err = c.r.nextKey(k)
	return found, ok, err
}

// lookAhead looks up blocks from k on, up to the first that is in memory too.
func (c *blockCursor) lookAhead(k key) error {
	first, any := c.r.firstInMemory()
	return c.r.view(bucketSummaries, func(b *bbolt.Bucket) error {
		cursor := b.Cursor()
		for at, v := cursor.Seek(k.Bytes()); at != nil && len(c.ahead) < blocksAhead; at, v = cursor.Next() {
			here, fits := stored.ReadKey(at)
			if !fits {
				continue // damage, which Verify reports; the blocks behind it are good
			}
			if any && here.Compare(first) >= 0 {
				break
			}
			c.ahead = append(c.ahead, storedBlock{here, bytes.Clone(v)})
		}
		return nil
	})
}

// firstInMemory is the first block of which memory has readings.
func (r probeReader) firstInMemory() (first key, any bool) {
	r.mu.RLock()
	defer r.mu.RUnlock()
	p := r.probes[r.name]
	if p == nil {
		return key{}, false
	}
	if len(p.open.rows) > 0 {
		first, any = p.open.key, true
	}
	if len(p.closed) > 0 && (!any || p.closed[0].key.Compare(first) < 0) {
		first, any = p.closed[0].key, true
	}
	return first, any
}

// summary is the summary of a block, nil if there is none.
func (r probeReader) summary(at placed) (*sum, error) {
	if at.stored != nil {
		if s, err := decodeSum(at.stored); err == nil {
			return s, nil
		}
	}
	return r.sum(at.key)
}
