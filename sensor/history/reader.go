package history

import (
	"encoding/binary"
	"errors"
	"math"
)

var errShort = errors.New("a column ends early")

// reader takes fields off the front of b. After the first failure every field
// is zero and err is set.
type reader struct {
	b   []byte
	err error
}

func (r *reader) fail() {
	r.b, r.err = nil, errShort
}

func (r *reader) byte() byte {
	if len(r.b) == 0 {
		r.fail()
		return 0
	}
	x := r.b[0]
	r.b = r.b[1:]
	return x
}

func (r *reader) uvarint() uint64 {
	if len(r.b) > 0 && r.b[0] < 0x80 {
		x := r.b[0]
		r.b = r.b[1:]
		return uint64(x)
	}
	x, n := binary.Uvarint(r.b)
	if n <= 0 {
		r.fail()
		return 0
	}
	r.b = r.b[n:]
	return x
}

func (r *reader) varint() int64 { return unzigzag(r.uvarint()) }

func (r *reader) float() float64 {
	if len(r.b) < 8 {
		r.fail()
		return 0
	}
	x := math.Float64frombits(binary.LittleEndian.Uint64(r.b))
	r.b = r.b[8:]
	return x
}

func (r *reader) bytes(n uint64) []byte {
	if n > uint64(len(r.b)) {
		r.fail()
		return nil
	}
	x := r.b[:n]
	r.b = r.b[n:]
	return x
}

// runs fills d with varints, in which a zero is followed by how many more there are.
func (r *reader) runs(d []int64) {
	for i := 0; i < len(d) && r.err == nil; i++ {
		d[i] = r.varint()
		if d[i] != 0 {
			continue
		}
		n := r.uvarint()
		if n > uint64(len(d)-i-1) {
			r.fail()
			return
		}
		clear(d[i : i+int(n)+1])
		i += int(n)
	}
}
