package thermal

import (
	"encoding"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"math"
	"time"
)

var (
	_ encoding.BinaryAppender    = Exposure{}
	_ encoding.BinaryMarshaler   = Exposure{}
	_ encoding.BinaryUnmarshaler = (*Exposure)(nil)
)

// The stored form: a version byte; the number of cells that hold time, each as
// the distance from the one before and its milliseconds (varints); the number
// of gaps, each as seconds and nanoseconds of its two ends and the bits of its
// two sides and its margin; and the CRC-32 (IEEE) of all that.
const encodingVersion = 1

var errDamaged = errors.New("stored exposure is damaged")

// AppendBinary appends the stored form, a few bytes for each cell that holds
// time. Its error is always nil.
func (x Exposure) AppendBinary(b []byte) ([]byte, error) {
	start := len(b)
	b = append(b, encodingVersion)
	var used uint64
	for _, ms := range x.cells {
		if ms != 0 {
			used++
		}
	}
	b = binary.AppendUvarint(b, used)
	last := 0
	for i, ms := range x.cells {
		if ms != 0 {
			b = binary.AppendUvarint(b, uint64(i-last))
			b = binary.AppendVarint(b, ms)
			last = i
		}
	}
	b = binary.AppendUvarint(b, uint64(len(x.gaps)))
	for _, g := range x.gaps {
		for _, t := range [...]time.Time{g.From, g.To} {
			b = binary.AppendVarint(b, t.Unix())
			b = binary.AppendUvarint(b, uint64(t.Nanosecond()))
		}
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(g.Before))
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(g.After))
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(g.Margin))
	}
	return binary.LittleEndian.AppendUint32(b, crc32.ChecksumIEEE(b[start:])), nil
}

// MarshalBinary is the stored form alone.
func (x Exposure) MarshalBinary() ([]byte, error) { return x.AppendBinary(nil) }

// UnmarshalBinary reads the stored form back, exactly. On an error the exposure
// is left as it was.
func (x *Exposure) UnmarshalBinary(b []byte) error {
	if len(b) < 5 {
		return fmt.Errorf("%w: %d bytes", errDamaged, len(b))
	}
	body := b[:len(b)-4]
	if crc32.ChecksumIEEE(body) != binary.LittleEndian.Uint32(b[len(b)-4:]) {
		return fmt.Errorf("%w: checksum differs", errDamaged)
	}
	if body[0] != encodingVersion {
		return fmt.Errorf("stored exposure has version %d, this program reads %d", body[0], encodingVersion)
	}
	r := decoder{rest: body[1:]}
	var y Exposure
	cell := uint64(0)
	for n := r.uvarint(); n > 0 && !r.bad; n-- {
		cell += r.uvarint()
		ms := r.varint()
		if cell >= uint64(cellCount) || ms <= 0 {
			return fmt.Errorf("%w: cell %d holds %d ms", errDamaged, cell, ms)
		}
		y.cells[cell] += ms
	}
	for n := r.uvarint(); n > 0 && !r.bad; n-- {
		g := Gap{From: r.time(), To: r.time()}
		g.Before, g.After, g.Margin = r.float(), r.float(), r.float()
		if g.length() <= 0 && !r.bad {
			return fmt.Errorf("%w: a gap from %v to %v", errDamaged, g.From, g.To)
		}
		y.gaps = append(y.gaps, g)
	}
	if r.bad || len(r.rest) != 0 {
		return fmt.Errorf("%w: it ends in the wrong place", errDamaged)
	}
	*x = y
	return nil
}

// decoder reads from bytes. Once they have run out it stays bad and reads zeros.
type decoder struct {
	rest []byte
	bad  bool
}

func (r *decoder) uvarint() uint64 {
	v, n := binary.Uvarint(r.rest)
	return v + r.take(n)
}

func (r *decoder) varint() int64 {
	v, n := binary.Varint(r.rest)
	r.take(n)
	return v
}

// take drops n bytes and returns 0. A count that is not positive is an end.
func (r *decoder) take(n int) uint64 {
	if n <= 0 || n > len(r.rest) {
		r.bad, r.rest = true, nil
		return 0
	}
	r.rest = r.rest[n:]
	return 0
}

func (r *decoder) time() time.Time {
	s := r.varint()
	return time.Unix(s, int64(r.uvarint()%uint64(time.Second))).UTC()
}

func (r *decoder) float() float64 {
	if len(r.rest) < 8 {
		r.bad, r.rest = true, nil
		return math.NaN()
	}
	v := math.Float64frombits(binary.LittleEndian.Uint64(r.rest))
	r.rest = r.rest[8:]
	return v
}
