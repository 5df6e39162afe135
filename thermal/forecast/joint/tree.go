package joint

import (
	"slices"
)

// tree is a problem laid out for elimination: blocks of one dam, in them clutches, in
// them groups, each group with its row over the globals of its block.
type tree struct {
	p      Problem
	prior  symmetric // precision of the globals
	blocks []block
	nodes  []node    // in the order of the problem's groups
	row    []float64 // as long as the longest, to write on
}

type block struct {
	globals  []int // sorted
	clutches [][]int
}

// node is a group in the tree.
type node struct {
	row       []float64 // over the block's globals
	clutchVar float64
	ownVar    float64
	block     int
	clutch    int // of the block
	dead      []weighted
}

// weighted is a share of dead eggs and its probability.
type weighted struct{ share, weight float64 }

// deadNodes is how finely a beta distribution is laid out.
const deadNodes = 9

// betaNodes lays out a beta distribution of the share of dead eggs.
func betaNodes(dead, live float64) []weighted {
	out := make([]weighted, deadNodes)
	var sum float64
	for i := range out {
		x := (float64(i) + 0.5) / deadNodes
		out[i] = weighted{x, pow(x, dead-1) * pow(1-x, live-1)}
		sum += out[i].weight
	}
	for i := range out {
		out[i].weight /= sum
	}
	return out
}

func newTree(p Problem) (*tree, bool) {
	t := &tree{p: p, prior: newSymmetric(p.Globals), nodes: make([]node, len(p.Groups))}
	for _, n := range p.Priors {
		inverse, _, ok := symmetric(n.Covariance).inverse()
		if !ok {
			return nil, false
		}
		for i := range inverse {
			copy(t.prior[n.First+i][n.First:], inverse[i])
		}
	}
	blockOf, clutchOf := map[int]int{}, map[[2]int]int{}
	for i, g := range p.Groups {
		b, ok := blockOf[g.Dam]
		if !ok {
			b = len(t.blocks)
			blockOf[g.Dam] = b
			t.blocks = append(t.blocks, block{})
		}
		x := &t.blocks[b]
		c, ok := clutchOf[[2]int{g.Dam, g.Clutch}]
		if !ok {
			c = len(x.clutches)
			clutchOf[[2]int{g.Dam, g.Clutch}] = c
			x.clutches = append(x.clutches, nil)
		}
		x.clutches[c] = append(x.clutches[c], i)
		t.nodes[i] = node{clutchVar: g.ClutchVar, ownVar: g.OwnVar, block: b, clutch: c}
		if len(g.Waiting) > 0 {
			t.nodes[i].dead = betaNodes(g.Dead, g.Live)
		}
	}
	t.layRows()
	return t, true
}

// layRows gives each block its globals and each node its row over them.
func (t *tree) layRows() {
	for i, g := range t.p.Groups {
		x := &t.blocks[t.nodes[i].block]
		for _, term := range g.Terms {
			if at, ok := slices.BinarySearch(x.globals, term.Global); !ok {
				x.globals = slices.Insert(x.globals, at, term.Global)
			}
		}
	}
	for i, g := range t.p.Groups {
		x := &t.blocks[t.nodes[i].block]
		t.nodes[i].row = make([]float64, len(x.globals))
		if len(x.globals) > len(t.row) {
			t.row = make([]float64, len(x.globals))
		}
		for _, term := range g.Terms {
			at, _ := slices.BinarySearch(x.globals, term.Global)
			t.nodes[i].row[at] = term.Value
		}
	}
}

// site is a normal factor of evidence: precision, and precision times mean.
type site struct{ precision, shift float64 }

func (s site) plus(o site) site { return site{s.precision + o.precision, s.shift + o.shift} }

// damped is a step from a site towards another one.
func (s site) damped(to site, by float64) site {
	return site{s.precision + by*(to.precision-s.precision), s.shift + by*(to.shift-s.shift)}
}

// clutchSum is what a clutch's groups say, their own offsets eliminated.
type clutchSum struct {
	precision, shift float64
	row              []float64 // precision times row
	variance         float64   // of the clutch's offset
	left             float64   // 1 + variance * precision
}

// blockSum is what a block says of its globals, all offsets eliminated.
type blockSum struct {
	precision symmetric
	shift     []float64
	clutches  []clutchSum

	damPrecision, damShift, damLeft, damVar float64
	damRow                                  []float64
	logDet                                  float64 // of all offsets
}

// reset makes a sum of a block nothing, for another evidence.
func (x *block) reset(out *blockSum, damVar float64) {
	n := len(x.globals)
	if out.precision == nil {
		*out = blockSum{precision: newSymmetric(n), shift: make([]float64, n), damRow: make([]float64, n), clutches: make([]clutchSum, len(x.clutches))}
		rows := make([]float64, n*len(x.clutches))
		for c := range out.clutches {
			out.clutches[c].row = rows[c*n : (c+1)*n : (c+1)*n]
		}
	}
	for i := range out.precision {
		clear(out.precision[i])
	}
	clear(out.shift)
	clear(out.damRow)
	for c := range out.clutches {
		k := &out.clutches[c]
		clear(k.row)
		*k = clutchSum{row: k.row}
	}
	out.damPrecision, out.damShift, out.damLeft, out.damVar, out.logDet = 0, 0, 0, damVar, 0
}

// sum eliminates the offsets of a block.
func (t *tree) sum(b int, s Scatter, evidence []site, out *blockSum) {
	x := &t.blocks[b]
	x.reset(out, s.Dam*s.Dam)
	for c, groups := range x.clutches {
		k := &out.clutches[c]
		k.variance = s.Clutch * s.Clutch
		for _, i := range groups {
			g := &t.nodes[i]
			k.variance = max(k.variance, s.Clutch*s.Clutch+g.clutchVar)
			e := evidence[i]
			if e == (site{}) {
				continue
			}
			left := 1 + g.ownVar*e.precision
			a, m := e.precision/left, e.shift/left
			out.logDet += log(left)
			k.precision += a
			k.shift += m
			for j, v := range g.row {
				k.row[j] += a * v
				out.shift[j] += m * v
			}
			out.precision.add(g.row, a)
		}
		k.left = 1 + k.variance*k.precision
		out.logDet += log(k.left)
		out.precision.add(k.row, -k.variance/k.left)
		out.damPrecision += k.precision / k.left
		out.damShift += k.shift / k.left
		for j, v := range k.row {
			out.shift[j] -= k.variance * k.shift / k.left * v
			out.damRow[j] += v / k.left
		}
	}
	out.damLeft = 1 + out.damVar*out.damPrecision
	out.logDet += log(out.damLeft)
	out.precision.add(out.damRow, -out.damVar/out.damLeft)
	for j, v := range out.damRow {
		out.shift[j] -= out.damVar * out.damShift / out.damLeft * v
	}
}

// offset is dam, clutch and group offset of one group given the globals: a constant, a
// slope by each global of the block, and a variance.
type offset struct {
	constant float64
	row      []float64
	variance float64
}

// offset gives that of a group whose evidence is e. Its row is written over one that is
// handed in.
func (b *blockSum) offset(g *node, e site, row []float64) offset {
	k := &b.clutches[g.clutch]
	left := 1 + g.ownVar*e.precision
	kept := 1 / left // 1 - the share that the group's own offset takes
	o := offset{
		constant: kept*(b.damVar*b.damShift/b.damLeft+k.variance*k.shift)/k.left + g.ownVar*e.shift/left,
		row:      row[:len(g.row)],
	}
	for j := range o.row {
		shared := -(b.damVar*b.damRow[j]/b.damLeft + k.variance*k.row[j]) / k.left
		o.row[j] = kept*shared - (1-kept)*g.row[j]
	}
	o.variance = kept*kept*(k.variance/k.left+b.damVar/b.damLeft/(k.left*k.left)) + g.ownVar/left
	return o
}
