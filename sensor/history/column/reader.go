package column

import (
	"encoding/binary"
	"errors"
	"math"
)

var errShort = errors.New("a column ends early")

// Reader takes fields off the front of b. After the first failure every field
// is zero and err is set.
type Reader struct {
	B   []byte
	Err error
}

func (r *Reader) fail() {
	r.B, r.Err = nil, errShort
}

func (r *Reader) Byte() byte {
	if len(r.B) == 0 {
		r.fail()
		return 0
	}
	x := r.B[0]
	r.B = r.B[1:]
	return x
}

func (r *Reader) Uvarint() uint64 {
	if len(r.B) > 0 && r.B[0] < 0x80 {
		x := r.B[0]
		r.B = r.B[1:]
		return uint64(x)
	}
	x, n := binary.Uvarint(r.B)
	if n <= 0 {
		r.fail()
		return 0
	}
	r.B = r.B[n:]
	return x
}

func (r *Reader) Varint() int64 { return unzigzag(r.Uvarint()) }

func (r *Reader) Float() float64 {
	if len(r.B) < 8 {
		r.fail()
		return 0
	}
	x := math.Float64frombits(binary.LittleEndian.Uint64(r.B))
	r.B = r.B[8:]
	return x
}

func (r *Reader) Bytes(n uint64) []byte {
	if n > uint64(len(r.B)) {
		r.fail()
		return nil
	}
	x := r.B[:n]
	r.B = r.B[n:]
	return x
}
