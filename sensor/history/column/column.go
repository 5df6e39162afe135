// Package column writes and reads columns: runs of integers or floats inside a block of
// readings. Neighbours of a slow quantity differ by a few steps of the part that measured
// it, so a column keeps the common step apart and the differences in few bits. It must not
// know what a column means.
//
// # Why the differences are in Rice's code
//
// The standard library's compress/flate over the same varints would save its 110
// lines. It was measured on 40 simulated blocks of 2,160 readings, every 10 s and
// up to some milliseconds late. The SHT4x has the noise of its data sheet
// (repeatability 0.04 K and 0.08 %, taken as three standard deviations) and the
// DS18B20 steps of 1/16 K under a noise of 0.03 K (our choice). A season is 800
// blocks of one probe; times are the best of 480 decodings, all in one run on one
// core of a server:
//
//	                     B a reading       decoding a block   decoding a season
//	                   SHT4x   DS18B20     SHT4x   DS18B20      SHT4x   DS18B20
//	Rice's code        2.05     0.79       43 us    33 us       34 ms    27 ms
//	flate, level 6     2.10     0.80       71 us    46 us       57 ms    36 ms
//	flate, level 9     2.10     0.80       64 us    36 us       51 ms    29 ms
//	flate, Huffman     2.14     0.81       70 us    46 us       56 ms    37 ms
//
// A season is to be read in 41 ms and 3.2 bytes a reading (our choice). Flate is
// 1.5 to 1.7 times as slow on the SHT4x and no smaller, so Rice's code stays.
//
// # Why there is a level too
//
// Of long columns with noise the distances from a level are smaller than the differences, see
// level.go. A season in which the room has a noise of 0.02 K and 0.2 %, and stamps are some
// milliseconds late, takes 2.72 B a reading in differences, 2.21 with levels, and 2.07 at the least.
// Decoding takes no longer.
package column

import (
	"encoding/binary"
	"errors"
	"math"
	"slices"
)

// Ways of writing the differences of a column of integers. The shortest is taken.
const (
	secondOrder = 1 << iota // differences of differences: a steady clock is all zeros
	inBits                  // Rice's code; else varints, in which a zero is followed by how many more there are
	aroundLevel             // alone: distances from a level, in a prefix code
)

// AppendInts writes v, which is not empty: how, the first value, the common step
// of the differences, the differences in that step.
func AppendInts(b []byte, v []int64) []byte {
	step := uint64(0)
	for i := 1; i < len(v) && step != 1; i++ {
		step = gcd(step, magnitude(v[i]-v[i-1]))
	}
	if step == 0 {
		b = append(b, 0)
		b = binary.AppendVarint(b, v[0])
		return binary.AppendUvarint(b, 0)
	}
	s := scratches.Get().(*scratch)
	defer scratches.Put(s)
	first, second, units := sized(&s.first, len(v)-1), sized(&s.second, len(v)-1), sized(&s.counted, len(v))
	units[0] = 0
	for i := range first {
		first[i] = (v[i+1] - v[i]) / int64(step)
		units[i+1] = units[i] + first[i] // summed up from zero
	}
	copy(second, first)
	for i := len(second) - 1; i > 0; i-- {
		second[i] -= second[i-1]
	}
	how, least, parameter := 0, math.MaxInt, uint(0)
	code, ok := levelOf(units, s)
	if ok {
		how, least = aroundLevel, code.bits
	}
	for order, d := range [][]int64{first, second} {
		if n := 8 * sizeRuns(d); n < least {
			how, least = order, n
		}
		if k, n := riceOf(d); n < least {
			how, least, parameter = order|inBits, n, k
		}
	}
	b = append(b, byte(how))
	b = binary.AppendVarint(b, v[0])
	b = binary.AppendUvarint(b, step)
	if how == aroundLevel {
		return code.append(b)
	}
	d := first
	if how&secondOrder != 0 {
		d = second
	}
	if how&inBits != 0 {
		return appendRice(append(b, byte(parameter)), d, parameter)
	}
	return appendRuns(b, d)
}

func zigzag(x int64) uint64   { return uint64(x<<1) ^ uint64(x>>63) }
func unzigzag(x uint64) int64 { return int64(x>>1) ^ -int64(x&1) }

// ReadInts fills v, which is not empty, from b and returns what follows.
func ReadInts(b []byte, v []int64) ([]byte, error) {
	r := Reader{B: b}
	how := r.Byte()
	v[0] = r.Varint()
	step := int64(r.Uvarint())
	d := v[1:]
	switch {
	case r.Err != nil:
		return nil, r.Err
	case how > aroundLevel:
		return nil, errors.New("differences are written in an unknown way")
	case how == aroundLevel:
		readLevel(&r, v, step)
		return r.B, r.Err
	case step == 0:
		clear(d)
	case how&inBits != 0:
		k := uint(r.Byte())
		if r.B = readRice(r.B, d, k); r.B == nil {
			return nil, errShort
		}
	default:
		r.runs(d)
	}
	value, diff := v[0], int64(0)
	if how&secondOrder != 0 {
		for i, x := range d {
			diff += x
			value += diff * step
			d[i] = value
		}
	} else {
		for i, x := range d {
			value += x * step
			d[i] = value
		}
	}
	return r.B, r.Err
}

// Ways of writing a column of floats, after its presence.
const (
	decimal0 = 0    // +k: an integer in 10^-k, k at most 9
	grid     = 0x10 // first value and step as floats, integers in that step
	plain    = 0x20 // eight bytes each
)

// Presence of values in a column of floats.
const (
	noneThere = iota
	allThere
	someThere // followed by runs: there, absent, there, ...
)

// AppendFloats writes v, in which NaN is absence. Every value comes back to
// within 1e-12 when it is a decimal of at most nine places, and else to within
// 1e-9: by the steps of a grid, if the column lies on one of a step of at least
// 5e-7 (the counts of a converter); or rounded; or as it is, if it is too large
// for that.
func AppendFloats(b []byte, v []float64) []byte {
	there := v
	if slices.ContainsFunc(v, math.IsNaN) {
		there = slices.DeleteFunc(slices.Clone(v), math.IsNaN)
	}
	switch len(there) {
	case 0:
		return append(b, noneThere)
	case len(v):
		b = append(b, allThere)
	default:
		b = append(b, someThere)
		b = appendPresence(b, v)
	}
	s := scratches.Get().(*scratch)
	defer scratches.Put(s)
	n := sized(&s.ints, len(there))
	for k := range len(powers) {
		if toDecimal(n, there, powers[k], 1e-12) {
			return AppendInts(append(b, decimal0+byte(k)), n)
		}
	}
	if step, ok := toGrid(n, there); ok {
		b = append(b, grid)
		b = AppendFloat(b, there[0])
		b = AppendFloat(b, step)
		return AppendInts(b, n)
	}
	last := len(powers) - 1
	if toDecimal(n, there, powers[last], 5.1e-10) {
		return AppendInts(append(b, decimal0+byte(last)), n)
	}
	b = append(b, plain)
	for _, x := range there {
		b = AppendFloat(b, x)
	}
	return b
}

func appendPresence(b []byte, v []float64) []byte {
	there, run := true, uint64(0)
	for _, x := range v {
		if there == math.IsNaN(x) {
			b = binary.AppendUvarint(b, run)
			there, run = !there, 0
		}
		run++
	}
	return binary.AppendUvarint(b, run)
}

// ReadFloats fills v and returns what follows.
func ReadFloats(b []byte, v []float64, scratch []int64) ([]byte, error) {
	r := Reader{B: b}
	presence := r.Byte()
	count := len(v)
	var runs []uint64
	switch presence {
	case noneThere:
		for i := range v {
			v[i] = math.NaN()
		}
		return r.B, r.Err
	case allThere:
	case someThere:
		count = 0
		for at, there := uint64(0), true; at < uint64(len(v)); there = !there {
			run := r.Uvarint()
			if r.Err != nil || run > uint64(len(v))-at || run == 0 && at > 0 {
				return nil, errShort
			}
			if there {
				count += int(run)
			}
			runs = append(runs, run)
			at += run
		}
	default:
		return nil, errors.New("a column has an unknown presence")
	}
	if count == 0 {
		return nil, errShort
	}
	out := v[:count]
	n := scratch[:count]
	how := r.Byte()
	var err error
	switch {
	case r.Err != nil:
		return nil, r.Err
	case how < byte(len(powers)):
		if r.B, err = ReadInts(r.B, n); err != nil {
			return nil, err
		}
		for i, x := range n {
			out[i] = float64(x) / powers[how]
		}
	case how == grid:
		first, step := r.Float(), r.Float()
		if r.B, err = ReadInts(r.B, n); err != nil {
			return nil, err
		}
		for i, x := range n {
			out[i] = first + float64(x)*step
		}
	case how == plain:
		for i := range out {
			out[i] = r.Float()
		}
	default:
		return nil, errors.New("a column is written in an unknown way")
	}
	spread(v, count, runs)
	return r.B, r.Err
}

// spread moves the first count values of v to where runs says they belong.
func spread(v []float64, count int, runs []uint64) {
	end, from := len(v), count
	for i := len(runs) - 1; i >= 0; i-- {
		start := end - int(runs[i])
		if i%2 == 0 {
			copy(v[start:end], v[from-int(runs[i]):from])
			from -= int(runs[i])
		} else {
			for j := start; j < end; j++ {
				v[j] = math.NaN()
			}
		}
		end = start
	}
}

var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9}

// exact is below what a float64 holds as an integer.
const exact = 1 << 52

func toDecimal(n []int64, v []float64, scale, within float64) bool {
	for i, x := range v {
		m := math.Round(x * scale)
		if !(math.Abs(m) < exact) || math.Abs(m/scale-x) > within {
			return false
		}
		n[i] = int64(m)
	}
	return true
}

// toGrid looks for a step of which all differences are multiples: Euclid's
// algorithm on reals, with a tolerance far under the smallest step worth having.
func toGrid(n []int64, v []float64) (step float64, ok bool) {
	const tolerance, smallest, within = 1e-8, 5e-7, 1e-9
	widest := 0.0
	for _, x := range v {
		d := math.Abs(x - v[0])
		if !(d < 1e6) {
			return 0, false
		}
		widest = max(widest, d)
		for a, b := d, step; ; {
			if b <= tolerance {
				step = a
				break
			}
			r := math.Mod(a, b)
			if b-r < tolerance {
				r = 0
			}
			a, b = b, r
		}
		if step > tolerance && step < smallest {
			return 0, false
		}
	}
	if widest == 0 {
		clear(n)
		return 1, true
	}
	if step < smallest {
		return 0, false
	}
	step = widest / math.Round(widest/step)
	for i, x := range v {
		m := math.Round((x - v[0]) / step)
		if math.Abs(v[0]+m*step-x) > within {
			return 0, false
		}
		n[i] = int64(m)
	}
	return step, true
}

func gcd(a, b uint64) uint64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func magnitude(x int64) uint64 {
	if x < 0 {
		return uint64(-x)
	}
	return uint64(x)
}

func AppendFloat(b []byte, x float64) []byte {
	return binary.LittleEndian.AppendUint64(b, math.Float64bits(x))
}
