package column

import (
	"encoding/binary"
	"math/bits"
	"slices"
)

// A converter's noise lies around a level that moves slowly. The difference of two noisy values
// has twice the variance of one; the distance of a value from a level that is a mean of many has
// little more than once. That saves up to half a bit a value. The level is an exponentially
// weighted mean, and its slope is that of a clock. Distances are kept in bits below a limit that
// are written as they are, and the rest in a prefix code made for the column. A distance of the
// limit or more, a leap, is written by itself, and the level goes on from there.
const (
	fraction    = 16 // bits of a level below one
	mostShift   = 8  // the slowest level that is tried moves by 1/256 of a distance
	finest      = 6  // bits of a distance that the prefix code may hold
	leapBits    = 6  // of the width of a leap
	mostLimit   = 40 // of a limit, bits; a column of wider noise is written in another way
	headBytes   = 4  // of the level, at least
	leastValues = 64 // the table of a shorter column costs more than it saves (our choice)
)

// level is what the next integer of a column is expected to be.
type level struct {
	at, slope int64 // in 1/65536
	shift     uint
}

func (l *level) expected() int64 { return (l.at + 1<<(fraction-1)) >> fraction }

// follow moves the level by an integer and on to the next.
func (l *level) follow(v int64) { l.at += (v<<fraction-l.at)>>(l.shift&63) + l.slope }

// leap moves the level to an integer and on to the next.
func (l *level) leap(v int64) { l.at = v<<fraction + l.slope }

// levelCode is how a column is written around its level.
type levelCode struct {
	slope             int64
	shift, limit, low uint // limit and low in bits
	code              prefixCode
	distances         []uint64
	bits              int
}

// measure finds how far integers lie from their level, and gives the sum of the distances' widths
// in bits: nearly what they take.
func (c *levelCode) measure(v []int64) (width int) {
	l := level{slope: c.slope << fraction, shift: c.shift}
	l.leap(v[0])
	for i, x := range v[1:] {
		z := zigzag(x - l.expected())
		c.distances[i] = z
		width += bits.Len64(z)
		if z>>c.limit == 0 {
			l.follow(x)
		} else {
			l.leap(x)
		}
	}
	return width
}

// levelOf is the best code found for v, counted in its step from any value, and false if there
// is none.
func levelOf(v []int64, s *scratch) (best levelCode, ok bool) {
	if len(v) < leastValues {
		return best, false
	}
	n := len(v) - 1
	best = levelCode{limit: mostLimit, distances: sized(&s.distances[0], n)}
	still := best.measure(v)
	best.slope = medianStep(v)
	least := best.measure(v)
	if least > still-n { // no clock: the slope of noise is that of chance
		best.slope = 0
		least = best.measure(v)
	}
	best.limit = uint((least+n/2)/n) + 4 // 5 spreads or more
	if best.limit >= mostLimit {
		return best, false
	}
	try := best
	try.distances = sized(&s.distances[1], n)
	for try.shift = 1; try.shift <= mostShift; try.shift++ {
		if width := try.measure(v); width < least {
			least, best.shift = width, try.shift
			best.distances, try.distances = try.distances, best.distances
		}
	}
	best.choose()
	best.bits += 8 * headBytes
	return best, true
}

// medianStep is the median of some of the differences: that of a clock is its period, whatever
// gaps it has.
func medianStep(v []int64) int64 {
	var steps []int64
	for i := 1; i < len(v); i += 1 + len(v)/256 {
		steps = append(steps, v[i]-v[i-1])
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// choose finds how many low bits to write as they are.
func (c *levelCode) choose() {
	const symbols = 1<<finest + 1
	low := c.limit - min(c.limit, finest)
	var count [symbols]int
	leaps := 0
	for _, z := range c.distances {
		if z>>c.limit != 0 {
			leaps += leapBits + bits.Len64(z)
			count[symbols-1]++
		} else {
			count[z>>low]++
		}
	}
	used := 1 << (c.limit - low)
	for ; ; low++ {
		for n := used; n > 1 && count[n-1] == 0; n-- {
			used = n - 1
		}
		code := prefixOf(count[:used], count[symbols-1])
		n := leaps + 8*len(code.append(nil)) + int(low)*len(c.distances)
		for i, x := range count[:used] {
			n += x * int(code.lengths[i])
		}
		n += count[symbols-1] * int(code.lengths[used])
		if c.bits == 0 || n < c.bits {
			c.low, c.bits, c.code = low, n, code
		}
		if used <= 4 || low == c.limit {
			return
		}
		for i := range used / 2 {
			count[i] = count[2*i] + count[2*i+1]
		}
		if used%2 == 1 {
			count[used/2] = count[used-1]
		}
		used = (used + 1) / 2
		clear(count[used : symbols-1])
	}
}

// append writes the level, the prefix code and the distances.
func (c *levelCode) append(b []byte) []byte {
	b = binary.AppendVarint(b, c.slope)
	b = append(b, byte(c.shift), byte(c.limit), byte(c.low))
	b = c.code.append(b)
	words := c.code.words()
	w := bitWriter{b: b}
	leap := len(c.code.lengths) - 1
	for _, z := range c.distances {
		if z>>c.limit == 0 {
			s := z >> c.low
			w.put(uint64(words[s]), uint(c.code.lengths[s]))
			w.put(z&(1<<c.low-1), c.low)
			continue
		}
		w.put(uint64(words[leap]), uint(c.code.lengths[leap]))
		n := uint(bits.Len64(z))
		w.put(uint64(n-1), leapBits)
		w.put(z>>32, n-min(n, 32))
		w.put(z&(1<<32-1), min(n, 32))
	}
	return w.end()
}

// bitWriter writes bits, the highest of each integer first.
type bitWriter struct {
	b    []byte
	have uint64
	n    uint // bits of have, under 8 between calls
}

// put writes the low bits of x, at most 56 of them. The bits above are zero.
func (w *bitWriter) put(x uint64, width uint) {
	w.have = w.have<<width | x
	for w.n += width; w.n >= 8; w.n -= 8 {
		w.b = append(w.b, byte(w.have>>(w.n-8)))
	}
}

func (w *bitWriter) end() []byte {
	if w.n > 0 {
		w.b = append(w.b, byte(w.have<<(8-w.n)))
	}
	return w.b
}

// levelReader reads distances and follows the level.
type levelReader struct {
	b     []byte
	at    uint // of b, bits
	low   uint
	leap  uint8
	level level
	table prefixTable
}

// readLevel fills v after its first value from r.
func readLevel(r *Reader, v []int64, step int64) {
	d := levelReader{level: level{slope: r.Varint() << fraction, shift: uint(r.Byte())}}
	limit := uint(r.Byte())
	d.low = uint(r.Byte())
	d.leap = d.table.read(r)
	if r.Err != nil || d.level.shift > mostShift || limit >= mostLimit || d.low > limit {
		r.fail()
		return
	}
	d.b = r.B
	d.level.leap(0)
	for first, rest := v[0], v[1:]; ; {
		if rest = rest[d.near(rest, first, step):]; len(rest) == 0 {
			break
		}
		rest[0] = first + d.one()*step
		rest = rest[1:]
		if d.at > uint(len(d.b))*8 {
			r.fail()
			return
		}
	}
	r.B = d.b[(d.at+7)/8:]
}

// near fills v as far as there is no leap, up to the last eight bytes, and gives how far it came.
// It takes many integers from one word, where a word for each takes longer.
func (d *levelReader) near(v []int64, first, step int64) (n int) {
	b, at, low, below, leap := d.b, d.at, d.low&63, uint64(1)<<(d.low&63)-1, d.leap
	l, slope, shift := d.level.at, d.level.slope, d.level.shift&63
	for n < len(v) && at/8+8 <= uint(len(b)) {
		w := binary.BigEndian.Uint64(b[at/8:]) << (at % 8)
		have, begun := 64-at%8, n
		for n < len(v) && have >= longest+low {
			e := d.table[w>>(64-longest)]
			if e.symbol == leap {
				break
			}
			width := uint(e.length) + low
			z := uint64(e.symbol)<<low | w>>((64-width)&63)&below
			w <<= width & 63
			have, at = have-width, at+width
			x := (l+1<<(fraction-1))>>fraction + unzigzag(z)
			l += (x<<fraction-l)>>shift + slope
			v[n] = first + x*step
			n++
		}
		if n == begun {
			break
		}
	}
	d.at, d.level.at = at, l
	return n
}

// one reads one integer.
func (d *levelReader) one() (x int64) {
	e := d.table[wordAt(d.b, d.at)>>(64-longest)]
	d.at += uint(e.length)
	if e.symbol != d.leap {
		x = d.level.expected() + unzigzag(uint64(e.symbol)<<d.low|d.take(d.low))
		d.level.follow(x)
		return x
	}
	width := uint(d.take(leapBits)) + 1
	high := width - min(width, 32)
	z := d.take(high)
	x = d.level.expected() + unzigzag(z<<32|d.take(width-high))
	d.level.leap(x)
	return x
}

// take reads some bits, at most 56.
func (d *levelReader) take(width uint) uint64 {
	w := wordAt(d.b, d.at) >> 1 >> (63 - width)
	d.at += width
	return w
}

// wordAt is the next 57 bits or more from a bit on, the first the highest, and zeros past the end.
func wordAt(b []byte, at uint) uint64 {
	i := at / 8
	if i+8 <= uint(len(b)) {
		return binary.BigEndian.Uint64(b[i:]) << (at % 8)
	}
	return lastWord(b, at)
}

func lastWord(b []byte, at uint) uint64 {
	var last [8]byte
	copy(last[:], b[min(at/8, uint(len(b))):])
	return binary.BigEndian.Uint64(last[:]) << (at % 8)
}
