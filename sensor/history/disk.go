package history

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"time"

	"go.etcd.io/bbolt"
)

// Schema is the layout this version writes. It refuses a newer one.
const Schema = 1

// The buckets. Blocks and summaries hold a bucket a probe, by key: a probe's
// blocks then lie together, and a new one always goes at the end.
var (
	bucketMeta      = []byte("history")
	bucketBoots     = []byte("boots")     // number -> Boot
	bucketTail      = []byte("tail")      // sequence -> the rows of one flush of one probe
	bucketBlocks    = []byte("blocks")    // probe -> key -> rows
	bucketSummaries = []byte("summaries") // probe -> key -> sum
	keySchema       = []byte("schema")
	keyCommit       = []byte("commit") // the last transaction, see Verify
)

// Open is the history in an open file, which it needs for itself. Damaged
// records are left out and counted; a newer schema is refused.
func Open(db *bbolt.DB, o Options) (*Store, error) {
	s := Memory(o)
	s.db = db
	var found bool
	err := db.View(func(tx *bbolt.Tx) error {
		meta := tx.Bucket(bucketMeta)
		if meta == nil {
			return nil
		}
		found = true
		n, err := strconv.Atoi(string(meta.Get(keySchema)))
		switch {
		case err != nil:
			return fmt.Errorf("its schema %q is no number", meta.Get(keySchema))
		case n > Schema:
			return fmt.Errorf("it was written by a newer version (schema %d, this one knows %d): install that version again, or move the file aside", n, Schema)
		}
		return s.load(tx)
	})
	if err == nil && !found {
		err = db.Update(create)
	}
	if err != nil {
		return nil, fmt.Errorf("history: open %s: %w", db.Path(), err)
	}
	return s, nil
}

func create(tx *bbolt.Tx) error {
	for _, name := range [][]byte{bucketBoots, bucketTail, bucketBlocks, bucketSummaries} {
		if _, err := tx.CreateBucketIfNotExists(name); err != nil {
			return err
		}
	}
	meta, err := tx.CreateBucketIfNotExists(bucketMeta)
	if err != nil {
		return err
	}
	if err := meta.Put(keySchema, []byte(strconv.Itoa(Schema))); err != nil {
		return err
	}
	return stamp(tx)
}

// stamp is the last thing in every transaction: its own number. It lies in a
// page that each one writes anew, so that one whose pages the card never wrote
// is known from it.
func stamp(tx *bbolt.Tx) error {
	return tx.Bucket(bucketMeta).Put(keyCommit, binary.BigEndian.AppendUint64(nil, uint64(tx.ID())))
}

// load reads the boots, where each probe had got to, and the tail.
func (s *Store) load(tx *bbolt.Tx) error {
	for _, name := range [][]byte{bucketBoots, bucketTail, bucketBlocks, bucketSummaries} {
		if tx.Bucket(name) == nil {
			return fmt.Errorf("the bucket %q is missing", name)
		}
	}
	c := tx.Bucket(bucketBoots).Cursor()
	for k, v := c.First(); k != nil; k, v = c.Next() {
		b, err := decodeBoot(k, v)
		if err != nil {
			s.losses.Damaged++
			continue
		}
		s.boots = append(s.boots, boot{Boot: b})
	}
	summaries, blocks := tx.Bucket(bucketSummaries), tx.Bucket(bucketBlocks)
	err := summaries.ForEachBucket(func(name []byte) error {
		s.loadTips(s.probe(string(name)), summaries.Bucket(name).Cursor(), blocks.Bucket(name))
		return nil
	})
	if err != nil {
		return err
	}
	return s.loadTail(tx.Bucket(bucketTail).Cursor())
}

// loadTips finds the last uptime in each boot, from the last boot backwards.
func (s *Store) loadTips(p *probe, c *bbolt.Cursor, blocks *bbolt.Bucket) {
	for k, v := c.Last(); k != nil; k, v = c.Prev() {
		at, ok := readKey(k)
		if !ok {
			s.losses.Damaged++
			continue
		}
		tip := int64(at.index) * spanMillis // at least this
		if sum, err := decodeSum(v); err == nil {
			tip = sum.to
		} else {
			s.losses.Damaged++
			if blocks != nil {
				if rows, err := decode(blocks.Get(k)); err == nil {
					tip = rows[len(rows)-1].up
				}
			}
		}
		p.tips[at.boot] = tip
		s.adopt(at.boot)
		s.lengthen(at.boot, tip)
		c.Seek(key{boot: at.boot}.bytes())
	}
	s.settle()
}

// adopt makes a record for a boot that has readings and lost its own. It is
// placed after the boot before it.
func (s *Store) adopt(number uint32) {
	at, ok := s.find(number)
	if ok {
		return
	}
	b := Boot{Number: number, ID: fmt.Sprintf("lost-%d", number), Start: time.UnixMilli(0).UTC(), Bound: math.MaxInt64}
	s.boots = slices.Insert(s.boots, at, boot{Boot: b})
	s.redated[number] = true
}

func (s *Store) loadTail(c *bbolt.Cursor) error {
	for k, v := c.First(); k != nil; k, v = c.Next() {
		name, at, rows, err := decodeChunk(v)
		if err != nil {
			s.losses.Damaged++
			continue
		}
		s.adopt(at.boot)
		p := s.probe(name)
		for _, row := range rows {
			if err := s.take(p, at.boot, row); err != nil {
				return err
			}
			p.open.flushed = len(p.open.rows)
		}
	}
	s.losses.Repeated, s.losses.Late = 0, 0
	s.settle()
	return nil
}

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
	rewrite bool // the tail holds rows of these blocks: begin it anew
	tail    []chunk
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
	if len(b.boots)+len(b.blocks)+len(b.tail) == 0 {
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
		return stamp(tx)
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
		return fmt.Errorf("history: flush to %s: %w", s.db.Path(), err)
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
	var newest key
	for _, p := range s.probes {
		if len(p.open.rows) > 0 && p.open.key.compare(newest) > 0 {
			newest = p.open.key
		}
	}
	var b batch
	for _, name := range sorted(s.probes) {
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
	for _, name := range sorted(s.probes) {
		p := s.probes[name]
		from := p.open.flushed
		if b.rewrite {
			from = 0
		}
		if n := len(p.open.rows); n > from {
			b.tail = append(b.tail, chunk{p, p.open.key, p.open.rows[from:n:n], n})
		}
	}
	for number := range s.redated {
		if i, ok := s.find(number); ok {
			b.boots = append(b.boots, s.boots[i].Boot)
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
	b = binary.AppendUvarint(b, uint64(c.key.boot))
	b = binary.AppendUvarint(b, uint64(c.key.index))
	return encode(b, c.rows)
}

// put writes a block and its summary, joined with what is there of it already.
func (s *Store) put(tx *bbolt.Tx, e ofProbe) (damaged uint64, err error) {
	blocks, err := tx.Bucket(bucketBlocks).CreateBucketIfNotExists([]byte(e.p.name))
	if err != nil {
		return 0, err
	}
	summaries, err := tx.Bucket(bucketSummaries).CreateBucketIfNotExists([]byte(e.p.name))
	if err != nil {
		return 0, err
	}
	k := e.c.key.bytes()
	block, total := e.c.block, e.c.sum
	if old, trimmed := blocks.Get(k), summaries.Get(k); old != nil {
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
			block, total = joined.block, joined.sum
		}
	} else if trimmed != nil {
		if before, err := decodeSum(trimmed); err != nil {
			damaged = 1
		} else if after, err := decodeSum(e.c.sum); err != nil {
			return 0, err
		} else if before.to < after.from {
			if total, err = before.follow(after, s.limit).encode(); err != nil {
				return 0, err
			}
		}
	}
	if summaries.Get(k) == nil {
		// How many there are is kept on another page than they are, for Verify.
		if _, err := summaries.NextSequence(); err != nil {
			return 0, err
		}
	}
	blocks.FillPercent, summaries.FillPercent = 0.95, 0.95 // keys all but always ascend
	if err := blocks.Put(k, block); err != nil {
		return 0, err
	}
	return damaged, summaries.Put(k, total)
}

// settled notes that a batch is durable.
func (s *Store) settled(b batch) {
	for _, e := range b.blocks {
		// A block that was joined with newer rows meanwhile is another.
		if i := slices.Index(e.p.closed, e.c); i >= 0 {
			e.p.closed = slices.Delete(e.p.closed, i, i+1)
			s.pending -= len(e.c.block) + len(e.c.sum)
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
		if i, ok := s.find(written.Number); ok && s.boots[i].Boot == written {
			delete(s.redated, written.Number)
		}
	}
}

// giveUp drops the oldest closed blocks that do not fit in memory.
func (s *Store) giveUp() {
	for s.pending > s.room {
		var oldest *probe
		for _, p := range s.probes {
			if len(p.closed) > 0 && (oldest == nil || p.closed[0].key.compare(oldest.closed[0].key) < 0) {
				oldest = p
			}
		}
		if oldest == nil {
			return
		}
		c := oldest.closed[0]
		s.losses.Dropped += uint64(c.count)
		s.pending -= len(c.block) + len(c.sum)
		oldest.closed = slices.Delete(oldest.closed, 0, 1)
	}
}

// Bytes is the size of the file, or of the blocks in memory.
func (s *Store) Bytes() (int64, error) {
	if s.db == nil {
		s.mu.RLock()
		defer s.mu.RUnlock()
		return int64(s.pending), nil
	}
	info, err := os.Stat(s.db.Path())
	if err != nil {
		return 0, fmt.Errorf("history: %w", err)
	}
	return info.Size(), nil
}

func sorted(probes map[string]*probe) []string {
	names := make([]string, 0, len(probes))
	for n := range probes {
		names = append(names, n)
	}
	slices.Sort(names)
	return names
}
