package mixedmodel

import "slices"

// The ranks of a tree, from the root down.
const (
	Order = iota
	Family
	Genus
	Species
	Ranks
)

// Path is where a species stands: its order, family, genus and own name. An empty name is
// not known.
type Path [Ranks]string

// Leaf is what was measured of one species.
type Leaf struct {
	Path
	Message
}

// Tree is a mixed model with what was measured. Each node differs at random from the one
// above it; the orders differ from zero.
type Tree struct {
	Leaves []Leaf // sorted by path
	Deviations
}

// Sort sorts leaves by their paths, as a tree wants them.
func Sort(leaves []Leaf) {
	slices.SortFunc(leaves, func(a, b Leaf) int { return slices.Compare(a.Path[:], b.Path[:]) })
}

// LogLikelihood is that of all that was measured.
func (t Tree) LogLikelihood() float64 { return t.sum(t.Leaves, Order, "").Constant }

// sum is what nodes of one parent say of it, but for the node of one name. The leaves are
// those below the parent, the rank that of the nodes.
func (t Tree) sum(leaves []Leaf, rank int, but string) Message {
	var m Message
	for len(leaves) > 0 {
		n := 1
		for n < len(leaves) && leaves[n].Path[rank] == leaves[0].Path[rank] {
			n++
		}
		if name := leaves[0].Path[rank]; name != but || but == "" {
			own := leaves[0].Message
			if rank < Species {
				own = t.sum(leaves[:n], rank+1, "")
			}
			m = m.Plus(own.Through(t.variance(leaves[0].Path, rank)))
		}
		leaves = leaves[n:]
	}
	return m
}

// Predict is what is expected of a species by all others, as if it had not been measured.
func (t Tree) Predict(p Path) Normal {
	var n Normal
	leaves := t.Leaves
	for rank := Order; rank < Ranks; rank++ {
		n = n.Given(t.sum(leaves, rank, p[rank])).Through(t.variance(p, rank))
		leaves = below(leaves, p[rank], rank)
	}
	return n
}

// below are the leaves below the node of a name.
func below(leaves []Leaf, name string, rank int) []Leaf {
	from := slices.IndexFunc(leaves, func(l Leaf) bool { return l.Path[rank] == name })
	if from < 0 {
		return nil
	}
	n := from
	for n < len(leaves) && leaves[n].Path[rank] == name {
		n++
	}
	return leaves[from:n]
}
