package column

import (
	"encoding/binary"
	"math/bits"
)

// appendRuns writes varints, in which a zero is followed by how many more there are.
func appendRuns(b []byte, d []int64) []byte {
	for i := 0; i < len(d); i++ {
		b = binary.AppendVarint(b, d[i])
		if d[i] == 0 {
			from := i
			for i+1 < len(d) && d[i+1] == 0 {
				i++
			}
			b = binary.AppendUvarint(b, uint64(i-from))
		}
	}
	return b
}

// sizeRuns is how many bytes appendRuns writes.
func sizeRuns(d []int64) (n int) {
	for i := 0; i < len(d); i++ {
		n += sizeUvarint(zigzag(d[i]))
		if d[i] == 0 {
			from := i
			for i+1 < len(d) && d[i+1] == 0 {
				i++
			}
			n += sizeUvarint(uint64(i - from))
		}
	}
	return n
}

func sizeUvarint(x uint64) int { return (bits.Len64(x|1) + 6) / 7 }

// runs fills d with varints, in which a zero is followed by how many more there are.
func (r *Reader) runs(d []int64) {
	for i := 0; i < len(d) && r.Err == nil; i++ {
		d[i] = r.Varint()
		if d[i] != 0 {
			continue
		}
		n := r.Uvarint()
		if n > uint64(len(d)-i-1) {
			r.fail()
			return
		}
		clear(d[i : i+int(n)+1])
		i += int(n)
	}
}
