package history

import (
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"

	"example.com/ootherm/sensor/history/stored"
	"go.etcd.io/bbolt"
)

// chunk is what one flush adds to the tail for one probe.
type chunk struct {
	p    *probe
	key  key
	rows []row
	upto int // of the open block's rows
}

// batch is what one flush writes.
type batch struct {
	boots   []Boot
	blocks  []ofProbe
	rewrite bool // the tail holds rows of these blocks: begin it again
	tail    []chunk
	checks  checks
}

type ofProbe struct {
	p *probe
	c *closed
}

// Flush makes durable what was appended before it, in one transaction. On an
// error nothing is lost from memory (within [Options].Unflushed) and the next
// Flush tries it all again; an error that stays means that the card is failing
// or full. It does not hold up Append or readers.
func (s *Store) Flush() error {
	s.flushing.Lock()
	defer s.flushing.Unlock()
	if s.db == nil {
		return nil
	}
	b, err := s.gather()
	if err != nil {
		return err
	}
	if len(b.boots)+len(b.blocks)+len(b.tail) == 0 && !b.checks.unsaved {
		return nil
	}
	var damaged uint64
	write := func(tx *bbolt.Tx) error {
		if err := trim(tx, excess(tx)); err != nil {
			return err
		}
		if damaged, err = s.write(tx, b); err != nil {
			return err
		}
		if err := writeChecks(tx, b.checks.upTo); err != nil {
			return err
		}
		return errors.Join(tx.Bucket(bucketMeta).Put(keySchema, []byte(strconv.Itoa(Schema))), stamp(tx))
	}
	err = s.db.Update(write)
	if errors.Is(err, errMaxSize) {
		// A large backlog outran the margin: make room first, in a transaction
		// of its own, since pages freed in one are used from the next on.
		err = s.db.Update(func(tx *bbolt.Tx) error {
			return errors.Join(trim(tx, max(excess(tx), tx.Size()/20)), stamp(tx))
		})
		if err == nil {
			err = s.db.Update(write)
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if err != nil {
		s.giveUp()
		return fmt.Errorf("flush to %s: %w", s.db.Path(), err)
	}
	s.losses.Damaged += damaged
	s.settled(b)
	return nil
}

// gather collects what is to be written. Blocks behind the newest are closed
// first, full or not, so that the tail never outlives them.
func (s *Store) gather() (batch, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	newest := s.newest()
	b := batch{checks: s.checks}
	for _, name := range slices.Sorted(maps.Keys(s.probes)) {
		p := s.probes[name]
		if p.open.key != newest {
			if err := s.close(p); err != nil {
				return batch{}, err
			}
		}
		for _, c := range p.closed {
			b.blocks = append(b.blocks, ofProbe{p, c})
			b.rewrite = b.rewrite || c.tailed
		}
	}
	for _, name := range slices.Sorted(maps.Keys(s.probes)) {
		p := s.probes[name]
		from := p.open.flushed
		if b.rewrite {
			from = 0
		}
		if n := len(p.open.rows); n > from {
			b.tail = append(b.tail, chunk{p, p.open.key, p.open.rows[from:n:n], n})
		}
	}
	for number := range s.boots.redated {
		if i, ok := s.boots.find(number); ok {
			b.boots = append(b.boots, s.boots.all[i].Boot)
		}
	}
	return b, nil
}

func (s *Store) write(tx *bbolt.Tx, b batch) (damaged uint64, err error) {
	for _, boot := range b.boots {
		k := binary.BigEndian.AppendUint32(nil, boot.Number)
		if err := tx.Bucket(bucketBoots).Put(k, boot.encode()); err != nil {
			return 0, err
		}
	}
	for _, e := range b.blocks {
		hurt, err := s.put(tx, e)
		if err != nil {
			return 0, fmt.Errorf("probe %s: %w", e.p.name, err)
		}
		damaged += hurt
	}
	tail := tx.Bucket(bucketTail)
	if b.rewrite {
		if err := tx.DeleteBucket(bucketTail); err != nil {
			return 0, err
		}
		if tail, err = tx.CreateBucket(bucketTail); err != nil {
			return 0, err
		}
	}
	if len(b.tail) == 0 {
		return damaged, nil
	}
	tail.FillPercent = 1 // keys only ascend
	// A key a probe, since the store packs its pages well with small values only.
	for _, c := range b.tail {
		n, err := tail.NextSequence()
		if err != nil {
			return 0, err
		}
		if err := tail.Put(tailKey(n), c.encode()); err != nil {
			return 0, err
		}
	}
	return damaged, nil
}

func tailKey(n uint64) []byte { return binary.BigEndian.AppendUint32(nil, uint32(n)) }

func (c chunk) encode() []byte {
	b := binary.AppendUvarint(nil, uint64(len(c.p.name)))
	b = append(b, c.p.name...)
	b = binary.AppendUvarint(b, uint64(c.key.Boot))
	b = binary.AppendUvarint(b, uint64(c.key.Index))
	return encode(b, c.rows)
}

// put writes a block and its summary, joined with what is there of it already.
func (s *Store) put(tx *bbolt.Tx, e ofProbe) (damaged uint64, err error) {
	bucket, err := tx.Bucket(bucketBlocks).CreateBucketIfNotExists([]byte(e.p.name))
	if err != nil {
		return 0, err
	}
	blocks := stored.Of(bucket)
	summaries, err := tx.Bucket(bucketSummaries).CreateBucketIfNotExists([]byte(e.p.name))
	if err != nil {
		return 0, err
	}
	hours, err := bucketOfHours(tx, e.p.name)
	if err != nil {
		return 0, err
	}
	k := e.c.key.Bytes()
	block, total, ofHours := e.c.block, e.c.sum, e.c.hours
	old, err := blocks.Get(e.c.key)
	if err != nil {
		damaged = 1
	}
	if trimmed := summaries.Get(k); old != nil {
		switch before, err := decode(old); {
		case err != nil:
			damaged = 1
		default:
			rows, err := decode(e.c.block)
			if err != nil {
				return 0, err
			}
			joined, err := newClosed(e.c.key, union(before, rows), s.limit)
			if err != nil {
				return 0, err
			}
			block, total, ofHours = joined.block, joined.sum, joined.hours
		}
	} else if trimmed != nil {
		if before, err := decodeSum(trimmed); err != nil {
			damaged = 1
		} else if after, err := decodeSum(e.c.sum); err != nil {
			return 0, err
		} else if before.to < after.from {
			joined := before.follow(after, s.limit)
			if total, err = joined.encode(); err != nil {
				return 0, err
			}
			ofHours = followHours(hours.Get(k), ofHours, before, joined, s.limit)
		}
	}
	if summaries.Get(k) == nil {
		// How many there are is kept on another page than they are, for Verify.
		if _, err := summaries.NextSequence(); err != nil {
			return 0, err
		}
	}
	bucket.FillPercent, summaries.FillPercent, hours.FillPercent = 0.95, 0.95, 0.95 // keys all but always ascend
	if err := errors.Join(blocks.Put(e.c.key, block), hours.Put(k, ofHours)); err != nil {
		return 0, err
	}
	return damaged, summaries.Put(k, total)
}

// bucketOfHours finds or makes a probe's bucket of hours.
func bucketOfHours(tx *bbolt.Tx, probe string) (*bbolt.Bucket, error) {
	all, err := tx.CreateBucketIfNotExists(bucketHours)
	if err != nil {
		return nil, err
	}
	return all.CreateBucketIfNotExists([]byte(probe))
}

// settled notes that a batch is durable.
func (s *Store) settled(b batch) {
	if s.checks == b.checks {
		s.checks.unsaved = false
	}
	for _, e := range b.blocks {
		// A block that was joined with newer rows meanwhile is another.
		if i := slices.Index(e.p.closed, e.c); i >= 0 {
			e.p.closed = slices.Delete(e.p.closed, i, i+1)
			s.pending -= e.c.size()
		}
	}
	if b.rewrite {
		for _, p := range s.probes {
			p.open.flushed = 0
		}
	}
	for _, c := range b.tail {
		if c.p.open.key == c.key && len(c.p.open.rows) >= c.upto {
			c.p.open.flushed = c.upto
			continue
		}
		for i, o := range c.p.closed {
			if o.key == c.key && !o.tailed {
				again := *o
				again.tailed = true
				c.p.closed[i] = &again
			}
		}
	}
	for _, written := range b.boots {
		if i, ok := s.boots.find(written.Number); ok && s.boots.all[i].Boot == written {
			delete(s.boots.redated, written.Number)
		}
	}
}

// giveUp drops the oldest closed blocks that do not fit in memory.
func (s *Store) giveUp() {
	for s.pending > s.room {
		var oldest *probe
		for _, p := range s.probes {
			if len(p.closed) > 0 && (oldest == nil || p.closed[0].key.Compare(oldest.closed[0].key) < 0) {
				oldest = p
			}
		}
		if oldest == nil {
			return
		}
		c := oldest.closed[0]
		s.losses.Dropped += uint64(c.count)
		s.pending -= c.size()
		oldest.closed = slices.Delete(oldest.closed, 0, 1)
	}
}
