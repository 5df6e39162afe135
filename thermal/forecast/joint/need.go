package joint

import (
	"cmp"
	"math"
	"slices"
)

// Need is what is believed of a few linear sums, with a weight: part of a mixture.
type Need struct {
	Weight     float64
	Mean       []float64
	Covariance [][]float64
	Egg        float64 // the scatter of one egg, a standard deviation
	Clutch     float64 // variance of the clutch's offset that is left, over the one before any evidence
}

// needParts is how many parts a mixture is merged into: points of the grid with like
// scatters of an egg (our choice).
const needParts = 3

// Need gives what is believed of the need of a group, first, and of some globals after it.
// The first sums the globals that count with its level (the row's weights for those in
// level) and the offsets of dam, clutch and group. What the group's whole clutch says by
// waiting is left out.
func (p *Posterior) Need(group int, level, also []int) []Need {
	var all []Need
	for _, s := range p.states {
		all = append(all, p.tree.needOf(s, group, level, also))
	}
	return merged(all)
}

func (t *tree) needOf(s *state, group int, level, also []int) Need {
	g := &t.nodes[group]
	x := &t.blocks[g.block]
	covariance, mean, sums, evidence := t.withoutWaiting(s, g)
	o := sums.offset(g, evidence[group], t.row)
	rows := make([][]float64, 1, 1+len(also))
	rows[0] = slices.Clone(o.row)
	for _, global := range level {
		if at, ok := slices.BinarySearch(x.globals, global); ok {
			rows[0][at]++
		}
	}
	for _, global := range also {
		row := make([]float64, len(x.globals))
		if at, ok := slices.BinarySearch(x.globals, global); ok {
			row[at] = 1
		}
		rows = append(rows, row)
	}
	out := Need{Weight: s.scatter.Weight, Egg: s.scatter.Egg, Mean: make([]float64, len(rows)), Covariance: newSymmetric(len(rows))}
	for i, row := range rows {
		out.Mean[i] = dot(row, mean)
		with := covariance.times(row)
		for j, other := range rows {
			out.Covariance[i][j] = dot(with, other)
		}
	}
	out.Mean[0] += o.constant
	out.Covariance[0][0] += o.variance
	out.Clutch = 1 / sums.clutches[g.clutch].left
	return out
}

// withoutWaiting is the posterior over the globals of a group's block without what its
// clutch says by waiting.
func (t *tree) withoutWaiting(s *state, g *node) (covariance symmetric, mean []float64, sums blockSum, evidence []site) {
	covariance, mean = t.over(s, g.block)
	sums, evidence = s.sums[g.block], s.evidence
	mates := t.blocks[g.block].clutches[g.clutch]
	if !slices.ContainsFunc(mates, func(i int) bool { return s.waiting[i] != site{} }) {
		return covariance, mean, sums, evidence
	}
	less := slices.Clone(s.evidence)
	for _, i := range mates {
		less[i] = site{}
		for _, h := range s.hatched[i] {
			less[i] = less[i].plus(h)
		}
	}
	var lessSums blockSum
	t.sum(g.block, s.scatter, less, &lessSums)
	precision, _, ok := covariance.inverse()
	if !ok {
		return covariance, mean, sums, evidence
	}
	shift := precision.times(mean)
	for i := range precision {
		shift[i] += lessSums.shift[i] - sums.shift[i]
		for j := range precision {
			precision[i][j] += lessSums.precision[i][j] - sums.precision[i][j]
		}
	}
	c, _, ok := precision.inverse()
	if !ok {
		return covariance, mean, sums, evidence
	}
	return c, c.times(shift), lessSums, less
}

// merged merges parts of like scatters, each pair of moments kept.
func merged(all []Need) []Need {
	slices.SortStableFunc(all, func(a, b Need) int { return cmp.Compare(a.Egg, b.Egg) })
	var out []Need
	var sum float64
	for begin := 0; begin < len(all); {
		end, weight := begin, 0.0
		for end < len(all) && (end == begin || sum+weight+all[end].Weight/2 < float64(len(out)+1)/needParts) {
			weight += all[end].Weight
			end++
		}
		sum += weight
		out = append(out, merge(all[begin:end], weight))
		begin = end
	}
	return out
}

func merge(parts []Need, weight float64) Need {
	n := len(parts[0].Mean)
	out := Need{Weight: weight, Mean: make([]float64, n), Covariance: newSymmetric(n)}
	var egg float64
	for _, p := range parts {
		w := p.Weight / weight
		egg += w * p.Egg * p.Egg
		out.Clutch += w * p.Clutch
		for i := range n {
			out.Mean[i] += w * p.Mean[i]
		}
	}
	out.Egg = math.Sqrt(egg)
	for _, p := range parts {
		w := p.Weight / weight
		for i := range n {
			for j := range n {
				out.Covariance[i][j] += w * (p.Covariance[i][j] + (p.Mean[i]-out.Mean[i])*(p.Mean[j]-out.Mean[j]))
			}
		}
	}
	return out
}

// Mean is the mean of the globals.
func (p *Posterior) Mean() []float64 {
	out := make([]float64, p.tree.p.Globals)
	for _, s := range p.states {
		for i, v := range s.mean {
			out[i] += s.scatter.Weight * v
		}
	}
	return out
}

// Outlier is the probability that a hatched egg of a group is an outlier.
func (p *Posterior) Outlier(group, egg int) (sum float64) {
	for _, s := range p.states {
		sum += s.scatter.Weight * s.wide[group][egg]
	}
	return sum
}

// Scatters is the posterior of the scatters.
func (p *Posterior) Scatters() []Scatter {
	var all []Scatter
	for _, s := range p.states {
		all = append(all, s.scatter)
	}
	return all
}
