package column

import (
	"encoding/binary"
	"math/bits"
)

// Rice's code of an integer under a parameter k: its low k bits, and the rest as
// that many ones and a zero. It is close to the shortest there is for the noise
// of a converter, whose differences are of a few steps (R. F. Rice, Some
// Practical Universal Noiseless Coding Techniques, JPL Publication 79-22, 1979).
// A rest of mostOnes or more, a leap, is that many ones and the whole in 64 bits.
const (
	mostOnes      = 24
	mostParameter = 30
)

// riceOf is the best parameter for d, and how many bits it takes with it.
func riceOf(d []int64) (k uint, size int) {
	if len(d) == 0 {
		return 0, 0
	}
	var sum uint64
	for _, x := range d {
		sum += min(zigzag(x), 1<<mostParameter)
	}
	// The best is within one of the logarithm of the mean.
	around := max(bits.Len64(sum/uint64(len(d))), 1) - 1
	for try := around; try <= around+1; try++ {
		n := 8 // the parameter itself
		for _, x := range d {
			if rest := zigzag(x) >> try; rest < mostOnes {
				n += int(rest) + 1 + try
			} else {
				n += mostOnes + 64
			}
		}
		if try == around || n < size {
			k, size = uint(try), n
		}
	}
	return k, size
}

func appendRice(b []byte, d []int64, k uint) []byte {
	var have uint64
	var n uint // bits of have, under 8 between calls
	put := func(x uint64, width uint) {
		have |= x << n
		for n += width; n >= 8; n -= 8 {
			b = append(b, byte(have))
			have >>= 8
		}
	}
	for _, x := range d {
		z := zigzag(x)
		rest := z >> k
		if rest < mostOnes {
			put(1<<rest-1, uint(rest)+1)
			put(z&(1<<k-1), k)
			continue
		}
		put(1<<mostOnes-1, mostOnes)
		put(z&(1<<32-1), 32)
		put(z>>32, 32)
	}
	if n > 0 {
		b = append(b, byte(have))
	}
	return b
}

// readRice fills d and returns what follows, nil if b ends early.
func readRice(b []byte, d []int64, k uint) []byte {
	if k > mostParameter+1 {
		return nil
	}
	at := uint(0) // in bits
	end := uint(len(b)) * 8
	// look is the next 56 bits or more, zeros past the end.
	look := func() uint64 {
		i := at / 8
		if i+8 <= uint(len(b)) {
			return binary.LittleEndian.Uint64(b[i:]) >> (at % 8)
		}
		var last [8]byte
		copy(last[:], b[min(i, uint(len(b))):])
		return binary.LittleEndian.Uint64(last[:]) >> (at % 8)
	}
	for i := 0; ; i++ {
		i, at = readShortRice(b, at, d, i, k)
		if i == len(d) {
			return b[(at+7)/8:]
		}
		w := look()
		ones := uint(bits.TrailingZeros64(^w))
		if ones < mostOnes {
			z := uint64(ones)<<k | w>>(ones+1)&(1<<k-1)
			at += ones + 1 + k
			d[i] = unzigzag(z)
		} else {
			at += mostOnes
			z := look() & (1<<32 - 1)
			at += 32
			z |= look() & (1<<32 - 1) << 32
			at += 32
			d[i] = unzigzag(z)
		}
		if at > end {
			return nil
		}
	}
}

// readShortRice fills d from i on, from a bit of b on, and gives how far it came in both: to a
// leap, or to the last eight bytes. It takes many integers from one word, where a word for each
// takes twice as long.
func readShortRice(b []byte, at uint, d []int64, i int, k uint) (int, uint) {
	k &= 63 // the compiler then knows that shifts by it need no check
	low := uint64(1)<<k - 1
	for i < len(d) && at/8+8 <= uint(len(b)) {
		w := binary.LittleEndian.Uint64(b[at/8:]) >> (at % 8)
		have, begun := 64-at%8, i
		for i < len(d) {
			ones := uint(bits.TrailingZeros64(^w))
			width := ones + 1 + k
			if width > have || ones >= mostOnes {
				break
			}
			d[i] = unzigzag(uint64(ones)<<k | w>>((ones+1)&63)&low)
			i++
			w >>= width & 63
			have, at = have-width, at+width
		}
		if i == begun {
			break
		}
	}
	return i, at
}
