package pastreadings

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/fnv"
	"math"
	"time"

	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/track"
)

// Derived keeps values that were computed from stored readings. A value can be missing at any
// time.
type Derived interface {
	Load(name string, from, to int64) (map[int64][]byte, error)
	Keep(name string, values map[int64][]byte) error
}

// keptVersion changes when the same readings make other blocks.
const keptVersion = 2

// keptName names the blocks of a source.
func (r Reader) keptName(s track.Source) string { return fmt.Sprintf("%s, %g K warmer", s, r.warmer) }

// origin is a sum of all that a block depends on but its readings: the probes, the settings,
// the corrections and the dates of the boots. It is false where a correction changes within the
// block.
func (r Reader) origin(s track.Source, boots []history.Boot, at int64) (sum uint64, ok bool) {
	from, to := startOf(at).Add(-r.Gap), startOf(at+1)
	h := fnv.New64a()
	write := func(format string, a ...any) { _, _ = fmt.Fprintf(h, format, a...) } // a hash takes all
	write("%d %d %d %g\n", keptVersion, r.Fresh, r.Gap, r.apart[s.Zone])
	for _, name := range r.Probes(s) {
		c := r.correct.At(name, from)
		if c != r.correct.At(name, to) {
			return 0, false
		}
		write("%q %v\n", name, c)
	}
	for i, b := range boots {
		if b.Start.Before(to) && (i+1 == len(boots) || !boots[i+1].Start.Before(from)) {
			write("%d %d\n", b.Number, b.Start.UnixMilli())
		}
	}
	return h.Sum64(), true
}

// load gives the kept blocks of a source that are still what its readings make.
func (r Reader) load(s track.Source, lo, hi int64) map[int64]block {
	known := map[int64]block{}
	if r.derived == nil {
		return known
	}
	kept, err := r.derived.Load(r.keptName(s), lo, hi)
	if err != nil {
		return known // they are computed again
	}
	boots := r.history.Boots()
	for at, v := range kept {
		if len(v) < 8 {
			continue
		}
		if origin, ok := r.origin(s, boots, at); !ok || origin != binary.LittleEndian.Uint64(v) {
			continue
		}
		if b, err := decodeBlock(v[8:]); err == nil {
			known[at] = b
		}
	}
	return known
}

// keep keeps blocks of a source for the next start.
func (r Reader) keep(s track.Source, lo int64, computed []block) {
	if r.derived == nil {
		return
	}
	boots := r.history.Boots()
	values := map[int64][]byte{}
	for i, b := range computed {
		at := lo + int64(i)
		if origin, ok := r.origin(s, boots, at); ok && !b.unread {
			values[at] = b.encode(binary.LittleEndian.AppendUint64(nil, origin))
		}
	}
	if err := r.derived.Keep(r.keptName(s), values); err != nil {
		return // the alarm for storage tells; the next start computes them again
	}
}

// encode appends a block that could be read.
func (b block) encode(v []byte) []byte {
	if b.first.At.IsZero() {
		return v
	}
	for _, x := range [...]thermal.Sample{b.first, b.last} {
		v = binary.LittleEndian.AppendUint64(v, uint64(x.At.UnixMilli()))
		v = binary.LittleEndian.AppendUint64(v, math.Float64bits(x.Celsius))
	}
	for _, x := range [...]float64{b.least, b.most} {
		v = binary.LittleEndian.AppendUint64(v, math.Float64bits(x))
	}
	return append(v, b.felt...)
}

// decodeBlock reads what encode wrote.
func decodeBlock(v []byte) (b block, err error) {
	if len(v) == 0 {
		return b, nil
	}
	if len(v) < 48 {
		return b, errors.New("a block ends early")
	}
	next := func() uint64 {
		x := binary.LittleEndian.Uint64(v)
		v = v[8:]
		return x
	}
	for _, x := range [...]*thermal.Sample{&b.first, &b.last} {
		x.At = time.UnixMilli(int64(next())).UTC()
		x.Celsius = math.Float64frombits(next())
	}
	b.least, b.most = math.Float64frombits(next()), math.Float64frombits(next())
	b.felt = v
	return b, nil
}

// KeepBlocks computes in the background the blocks that were completed since it was last
// called, of the sources whose blocks are used. The next start then reads no readings for them.
func (p *Past) KeepBlocks() {
	if p.o.Derived == nil {
		return
	}
	r := p.Reader()
	end := r.settled.UnixMilli() / blockMillis
	if end == p.kept {
		return
	}
	p.kept = end
	p.Rebuilds.Once(func(time.Time) func() (func(), error) {
		return func() (func(), error) {
			for _, key := range r.blocks.sources() {
				of := r
				of.warmer = key.warmer
				_ = of.known(key.Source, end-keptAtOnce, end)
			}
			return func() {}, nil
		}
	})
}

// keptAtOnce is how many blocks before now are looked after: a day, so that one that could not
// be read for a while is kept later (our choice).
const keptAtOnce = 4
