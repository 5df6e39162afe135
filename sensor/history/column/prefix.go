package column

// longest is the longest word of a prefix code, bits. A table of 2^10 entries stays in a small
// processor's nearest cache.
const longest = 10

// prefixCode is a code in which frequent symbols have short words, by their lengths alone: words
// of one length follow one another (D. A. Huffman, A Method for the Construction of
// Minimum-Redundancy Codes, Proc. IRE 40, 1952). The last symbol is that of a leap.
type prefixCode struct{ lengths []uint8 }

// prefixOf makes the code for symbols that occur so often, and for leaps.
func prefixOf(count []int, leaps int) prefixCode {
	weights := append(append(make([]int, 0, len(count)+1), count...), leaps)
	weights[0] = max(weights[0], 1) // two symbols have a word in every code
	weights[len(count)] = max(leaps, 1)
	for {
		lengths, most := huffman(weights)
		if most <= longest {
			return prefixCode{lengths}
		}
		for i, w := range weights {
			weights[i] = (w + 1) / 2
		}
	}
}

// huffman gives the lengths of the words of an optimal code and the longest of them.
func huffman(weights []int) (lengths []uint8, most uint8) {
	n := len(weights)
	weight := append(make([]int, 0, 2*n), weights...)
	parent := make([]int, 2*n)
	var roots []int
	for i, w := range weights {
		if w > 0 {
			roots = append(roots, i)
		}
	}
	take := func() int {
		least := 0
		for i, r := range roots {
			if weight[r] < weight[roots[least]] {
				least = i
			}
		}
		r := roots[least]
		roots[least] = roots[len(roots)-1]
		roots = roots[:len(roots)-1]
		return r
	}
	for len(roots) > 1 {
		a, b := take(), take()
		parent[a], parent[b] = len(weight), len(weight)
		roots = append(roots, len(weight))
		weight = append(weight, weight[a]+weight[b])
	}
	depth := make([]uint8, len(weight))
	for i := len(weight) - 2; i >= 0; i-- {
		if parent[i] > 0 {
			depth[i] = depth[parent[i]] + 1
			if i < n {
				most = max(most, depth[i])
			}
		}
	}
	return depth[:n], most
}

// words gives the word of each symbol.
func (c prefixCode) words() []uint16 {
	words := make([]uint16, len(c.lengths))
	next := uint16(0) // in the longest length
	for length := uint8(1); length <= longest; length++ {
		for i, l := range c.lengths {
			if l == length {
				words[i] = next >> (longest - length)
				next += 1 << (longest - length)
			}
		}
	}
	return words
}

// append writes how many symbols there are and the lengths of their words, four bits each.
func (c prefixCode) append(b []byte) []byte {
	b = append(b, byte(len(c.lengths)))
	for i := 0; i < len(c.lengths); i += 2 {
		pair := c.lengths[i]
		if i+1 < len(c.lengths) {
			pair |= c.lengths[i+1] << 4
		}
		b = append(b, pair)
	}
	return b
}

// prefixTable gives for the next bits the symbol that they begin with and the length of its word.
type prefixTable [1 << longest]struct{ symbol, length uint8 }

// read fills the table from what append wrote, and gives the last symbol.
func (t *prefixTable) read(r *Reader) (last uint8) {
	n := int(r.Byte())
	pairs := r.Bytes(uint64(n+1) / 2)
	rest := t[:]
	for length := 1; length <= longest; length++ {
		for i := range min(n, 2*len(pairs)) {
			if int(pairs[i/2]>>(i%2*4)&15) != length {
				continue
			}
			if len(rest) < 1<<(longest-length) {
				r.fail()
				return 0
			}
			word := rest[:1<<(longest-length)]
			for j := range word {
				word[j].symbol, word[j].length = uint8(i), uint8(length)
			}
			rest = rest[len(word):]
		}
	}
	if len(rest) > 0 {
		r.fail()
	}
	return uint8(n - 1)
}
