// Package history keeps every reading of every probe, and what each six hours
// of them came to.
//
// Readings are keyed by probe, boot and uptime; a boot is dated apart from them,
// so that learning the time later moves all its readings by one record. Appended
// readings are in memory and readable at once; Flush writes them to a tail in
// one transaction, and each full six hours of uptime become a block and a
// summary. The blocks of a finished day lie together. Blocks may be trimmed when
// the file is full, the oldest first; summaries stay. The package must not know what a reading is used for.
package history

import (
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"go.etcd.io/bbolt"

	"example.com/ootherm/sensor"
)

// Resolution is how finely uptimes are kept. A reading's uptime is cut to it.
const Resolution = time.Millisecond

// Options of a store. The zero value will do.
type Options struct {
	// GapLimit is the longest span between two believed readings that still
	// counts as measured; a longer one is a gap. Ten minutes if zero. A block
	// keeps the limit it was closed under.
	GapLimit time.Duration

	// Unflushed bounds what is kept in memory of full blocks that could not be
	// written, in bytes; beyond it the oldest are dropped and counted. Eight
	// million if zero: weeks of twelve probes, at 3 bytes a reading.
	Unflushed int
}

const (
	defaultGapLimit  = 10 * time.Minute
	defaultUnflushed = 8 << 20
)

// Losses counts what the store did not take or could not read back.
type Losses struct {
	Repeated uint64 // readings of a probe at an uptime it already had
	Late     uint64 // readings older than the last of their probe and boot
	Dropped  uint64 // readings given up, unwritten, for want of memory
	Damaged  uint64 // records that were found damaged when the store was opened or flushed
}

// Store is a history. All its methods are safe from any goroutine.
//
// Readings of one probe and boot come in order of uptime: one at the uptime of
// the last is a repetition (after a crash the same readings may be given again)
// and one before it is late; either is left out and counted in [Losses].
type Store struct {
	db    *bbolt.DB // nil in memory
	limit time.Duration
	room  int

	flushing sync.Mutex // one Flush at a time; held without mu while writing

	mu      sync.RWMutex
	probes  map[string]*probe
	boots   bootList
	losses  Losses
	checks  checks
	pending int // bytes of closed blocks in memory
}

var _ sensor.Sink = (*Store)(nil)

// probe is what is in memory of one probe.
type probe struct {
	name   string
	open   span
	closed []*closed        // sorted by key; all blocks in memory, or those not written yet
	tips   map[uint32]int64 // boot -> the last uptime taken
}

// span is a block being filled. Rows are only ever appended to, so a reader may
// keep a slice of them.
type span struct {
	key
	rows    []row
	flushed int // how many of the rows are in the tail on disk
}

// closed is a full block. It is never changed.
type closed struct {
	key
	block  []byte
	sum    []byte
	hours  []byte
	count  int
	tailed bool // the tail on disk has rows of it
}

// Memory is a history without a file: Flush makes nothing durable, and nothing
// is trimmed.
func Memory(o Options) *Store {
	s := &Store{
		limit: o.GapLimit, room: o.Unflushed,
		probes: make(map[string]*probe), boots: bootList{redated: make(map[uint32]bool)},
	}
	if s.limit <= 0 {
		s.limit = defaultGapLimit
	}
	if s.room <= 0 {
		s.room = defaultUnflushed
	}
	return s
}

// Append takes readings: all of them, or none and an error that says which is
// wrong. Their boot must have begun. The causes of refused readings are kept, as
// are their values.
func (s *Store) Append(readings []sensor.Reading) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, r := range readings {
		if err := s.check(r); err != nil {
			return fmt.Errorf("reading %d of %d: %w", i+1, len(readings), err)
		}
	}
	for _, r := range readings {
		up := r.Uptime.Milliseconds()
		if err := s.take(s.probe(r.Probe), r.Boot, row{up, r.Celsius, r.Humidity, r.Cause}); err != nil {
			return err
		}
	}
	return nil
}

func (s *Store) check(r sensor.Reading) error {
	switch _, known := s.boots.find(r.Boot); {
	case r.Probe == "":
		return errors.New("it names no probe")
	case len(r.Probe) > bbolt.MaxKeySize:
		return fmt.Errorf("the probe's name has %d bytes, more than %d", len(r.Probe), bbolt.MaxKeySize)
	case r.Uptime < 0 || r.Uptime.Milliseconds()/spanMillis > 1<<32-1:
		return fmt.Errorf("probe %s: an uptime of %s cannot be", r.Probe, r.Uptime)
	case !known:
		return fmt.Errorf("probe %s: boot %d was never begun", r.Probe, r.Boot)
	}
	return nil
}

// probe finds or makes a probe.
func (s *Store) probe(name string) *probe {
	p := s.probes[name]
	if p == nil {
		p = &probe{name: name, tips: make(map[uint32]int64)}
		s.probes[name] = p
	}
	return p
}

// take puts one row where it belongs, or counts why not.
func (s *Store) take(p *probe, number uint32, r row) error {
	if tip, ok := p.tips[number]; ok && r.up <= tip {
		if r.up == tip {
			s.losses.Repeated++
		} else {
			s.losses.Late++
		}
		return nil
	}
	if k := keyOf(number, r.up); len(p.open.rows) == 0 || p.open.key != k {
		size := len(p.open.rows) + 8
		if err := s.close(p); err != nil {
			return err
		}
		p.open = span{key: k, rows: make([]row, 0, size)}
	}
	p.open.rows = append(p.open.rows, r)
	p.tips[number] = r.up
	s.boots.lengthen(number, r.up)
	return nil
}

// close turns the block being filled into a closed one.
func (s *Store) close(p *probe) error {
	if len(p.open.rows) == 0 {
		return nil
	}
	at, found := p.search(p.open.key)
	rows, tailed := p.open.rows, p.open.flushed > 0
	if found {
		before, err := decode(p.closed[at].block)
		if err != nil {
			return fmt.Errorf("probe %s: a block in memory: %w", p.name, err)
		}
		rows, tailed = union(before, rows), tailed || p.closed[at].tailed
	}
	c, err := newClosed(p.open.key, rows, s.limit)
	if err != nil {
		return err
	}
	c.tailed = tailed
	s.pending += c.size()
	if found {
		s.pending -= p.closed[at].size()
		p.closed[at] = c
	} else {
		p.closed = slices.Insert(p.closed, at, c)
	}
	p.open = span{}
	return nil
}

func newClosed(k key, rows []row, limit time.Duration) (*closed, error) {
	b, err := summarise(rows, limit).encode()
	if err != nil {
		return nil, err
	}
	return &closed{
		key: k, block: slices.Clip(encode(make([]byte, 0, 4*len(rows)), rows)), sum: b,
		hours: writeHours(uint64(len(rows)), hoursOf(rows, limit)), count: len(rows),
	}, nil
}

// size is how many bytes a closed block holds.
func (c *closed) size() int { return len(c.block) + len(c.sum) + len(c.hours) }

// Losses are the counts since the store was opened.
func (s *Store) Losses() Losses {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.losses
}

// Probes are the names of all probes that ever gave a reading, sorted.
func (s *Store) Probes() []string {
	s.mu.RLock()
	defer s.mu.RUnlock()
	names := make([]string, 0, len(s.probes))
	for n, p := range s.probes {
		if len(p.tips) > 0 {
			names = append(names, n)
		}
	}
	slices.Sort(names)
	return names
}
