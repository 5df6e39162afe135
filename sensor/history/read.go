package history

import (
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"time"

	"example.com/ootherm/sensor/history/stored"
	"go.etcd.io/bbolt"

	"example.com/ootherm/sensor"
)

// Point is a reading and when it was.
type Point struct {
	At time.Time
	sensor.Reading
}

// Damage is a stored block, or its summary, that cannot be decoded. Reading it again
// gives the same error.
type Damage struct {
	Probe    string
	From, To time.Time // of the block; To is exclusive
	Err      error     // names the probe and the hours too
}

func (d *Damage) Error() string { return d.Err.Error() }

func (d *Damage) Unwrap() error { return d.Err }

// errDamaged is the cause of a [Damage]; any other error of a read may pass.
var errDamaged = errors.New("damaged")

func undecodable(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%w: %w", errDamaged, err)
}

// damage says where a block is that cannot be decoded. It leaves other errors as they are.
func (p placed) damage(probe string, err error) error {
	if !errors.Is(err, errDamaged) {
		return err
	}
	from := p.time(int64(p.Index) * spanMillis)
	return &Damage{Probe: probe, From: from, To: from.Add(blockSpan), Err: err}
}

// Range yields the readings of a probe from (inclusive) to (exclusive) in order
// of time, believed or not, those not flushed yet too. A damaged block yields
// one error in its place, a [*Damage]; whoever goes on gets the rest. It holds no
// transaction while it yields.
func (s *Store) Range(probe string, from, to time.Time) iter.Seq2[Point, error] {
	return func(yield func(Point, error) bool) {
		r := probeReader{s, probe}
		for at, err := range r.blocks(from, to) {
			if err != nil {
				yield(Point{}, err)
				return
			}
			rows, err := r.rows(at.key)
			if err != nil {
				if !yield(Point{}, at.damage(probe, err)) {
					return
				}
				continue
			}
			for _, row := range at.rowsBetween(rows, from, to) {
				p := Point{at.time(row.up), sensor.Reading{
					Probe:       probe,
					Stamp:       sensor.Stamp{Boot: at.Boot, Uptime: time.Duration(row.up) * time.Millisecond},
					Measurement: sensor.Measurement{Celsius: row.celsius, Humidity: row.humidity},
					Cause:       row.cause,
				}}
				if !yield(p, nil) {
					return
				}
			}
		}
	}
}

// Summaries yields the summaries of all blocks of a probe that have readings
// between from and to, in order of time: trimmed blocks too, and those that are
// not full yet. A damaged one yields an error in its place.
func (s *Store) Summaries(probe string, from, to time.Time) iter.Seq2[Summary, error] {
	return func(yield func(Summary, error) bool) {
		r := probeReader{s, probe}
		for at, err := range r.blocks(from, to) {
			if err != nil {
				yield(Summary{}, err)
				return
			}
			t, err := r.summary(at)
			if err != nil {
				if !yield(Summary{}, at.damage(probe, err)) {
					return
				}
				continue
			}
			if t == nil || !at.time(t.from).Before(to) || at.time(t.to).Before(from) {
				continue
			}
			if !yield(t.dated(probe, at.start), nil) {
				return
			}
		}
	}
}

// placed is a block, when its boot began, and the last uptime that a reader who
// began earlier may see of it.
type placed struct {
	key
	start  time.Time
	last   int64
	stored []byte // its summary in the file, where it was looked up
}

func (p placed) time(up int64) time.Time { return mark{up: up}.sample(p.start).At }

// rowsBetween gives the rows from one time to before another, up to the last uptime. Rows are sorted.
func (p placed) rowsBetween(rows []row, from, to time.Time) []row {
	find := func(t time.Time) int {
		i, _ := slices.BinarySearchFunc(rows, t, func(r row, t time.Time) int { return p.time(r.up).Compare(t) })
		return i
	}
	lo, hi := find(from), find(to)
	for hi > lo && rows[hi-1].up > p.last {
		hi--
	}
	if hi < lo {
		return nil
	}
	return rows[lo:hi]
}

// probeReader reads the blocks of one probe.
type probeReader struct {
	*Store
	name string
}

// blocks yields the keys of a probe's blocks that may hold readings between two
// times, in order of time. It goes as far as the probe had got when it began: a
// block it has passed may have grown since, and what follows would leave a hole.
func (r probeReader) blocks(from, to time.Time) iter.Seq2[placed, error] {
	return func(yield func(placed, error) bool) {
		r.mu.RLock()
		dated := r.boots.dated
		var tips map[uint32]int64
		if p := r.probes[r.name]; p != nil {
			tips = maps.Clone(p.tips)
		}
		r.mu.RUnlock()
		for _, b := range dated {
			tip, ok := tips[b.Number]
			if !ok || !b.Start.Before(to) || b.Start.Add(time.Duration(tip)*time.Millisecond).Before(from) {
				continue
			}
			if !r.blocksOfBoot(b, tip, from, to, yield) {
				return
			}
		}
	}
}

// blocksOfBoot yields the blocks of one boot up to its tip, in milliseconds, and
// reports whether to go on with the next boot.
func (r probeReader) blocksOfBoot(b Boot, tip int64, from, to time.Time, yield func(placed, error) bool) bool {
	cursor := blockCursor{r: r}
	next := key{Boot: b.Number}
	if from.After(b.Start) {
		next.Index = uint32(from.Sub(b.Start) / blockSpan)
	}
	for {
		k, ok, err := cursor.next(next)
		if err != nil {
			yield(placed{}, err)
			return false
		}
		at := placed{k.key, b.Start, tip, k.summary}
		if !ok || k.Compare(keyOf(b.Number, tip)) > 0 || !at.time(int64(k.Index)*spanMillis).Before(to) {
			return true
		}
		if !yield(at, nil) {
			return false
		}
		next = key{Boot: k.Boot, Index: k.Index + 1}
	}
}

// inMemory is what memory has of a block: a closed one, rows being filled. Memory is always looked
// at before the file: a block moves from one to the other, so the other order could miss it.
func (r probeReader) inMemory(k key) (c *closed, open []row) {
	r.mu.RLock()
	defer r.mu.RUnlock()
	p := r.probes[r.name]
	if p == nil {
		return nil, nil
	}
	if i, ok := p.search(k); ok {
		c = p.closed[i]
	}
	if p.open.key == k {
		open = slices.Clip(p.open.rows)
	}
	return c, open
}

func (p *probe) search(k key) (int, bool) {
	return slices.BinarySearchFunc(p.closed, k, func(c *closed, k key) int { return c.key.Compare(k) })
}

// nextKey is the first block of a probe at or after k.
func (r probeReader) nextKey(k key) (found key, ok bool, err error) {
	r.mu.RLock()
	if p := r.probes[r.name]; p != nil {
		if i, _ := p.search(k); i < len(p.closed) {
			found, ok = p.closed[i].key, true
		}
		if len(p.open.rows) > 0 && p.open.key.Compare(k) >= 0 && (!ok || p.open.key.Compare(found) < 0) {
			found, ok = p.open.key, true
		}
	}
	r.mu.RUnlock()
	err = r.view(bucketSummaries, func(b *bbolt.Bucket) error {
		c := b.Cursor()
		for at, _ := c.Seek(k.Bytes()); at != nil; at, _ = c.Next() {
			here, fits := stored.ReadKey(at)
			if !fits {
				continue // damage, which Verify reports; the blocks behind it are good
			}
			if !ok || here.Compare(found) < 0 {
				found, ok = here, true
			}
			return nil
		}
		return nil
	})
	return found, ok, err
}

// rows are all readings of a block; none if it was trimmed.
func (r probeReader) rows(k key) ([]row, error) {
	c, open := r.inMemory(k)
	var before, pending []row
	err := r.view(bucketBlocks, func(b *bbolt.Bucket) (err error) {
		v, err := stored.Of(b).Get(k)
		if v != nil {
			before, err = decode(v)
		}
		return undecodable(err)
	})
	if err == nil && c != nil {
		pending, err = decode(c.block)
		err = undecodable(err)
	}
	if err != nil {
		return nil, fmt.Errorf("probe %s, boot %d, hours %d to %d: the readings: %w",
			r.name, k.Boot, 6*int64(k.Index), 6*int64(k.Index)+6, err)
	}
	return union(union(before, pending), open), nil
}

// sum is the summary of a block, nil if there is none.
func (r probeReader) sum(k key) (*sum, error) {
	c, open := r.inMemory(k)
	var stored *sum
	err := r.view(bucketSummaries, func(b *bbolt.Bucket) (err error) {
		if v := b.Get(k.Bytes()); v != nil {
			stored, err = decodeSum(v)
			err = undecodable(err)
		}
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("probe %s, boot %d, hours %d to %d: the summary: %w",
			r.name, k.Boot, 6*int64(k.Index), 6*int64(k.Index)+6, err)
	}
	switch {
	case c == nil && len(open) == 0:
		return stored, nil
	case c != nil && stored == nil && len(open) == 0:
		return decodeSum(c.sum)
	case c == nil && stored == nil:
		return summarise(open, r.limit), nil
	}
	rows, err := r.rows(k)
	if err != nil || len(rows) == 0 {
		return stored, err
	}
	return summarise(rows, r.limit), nil
}

// view reads one probe's bucket in a short transaction.
func (r probeReader) view(which []byte, read func(*bbolt.Bucket) error) error {
	if r.db == nil {
		return nil
	}
	return r.db.View(func(tx *bbolt.Tx) error {
		all := tx.Bucket(which)
		if all == nil {
			return errors.New("the file has lost a bucket")
		}
		if b := all.Bucket([]byte(r.name)); b != nil {
			return read(b)
		}
		return nil
	})
}
