package joint

import (
	"math"
	"slices"
)

// The steps of expectation propagation. They end when no mean moves by more than a share
// of its standard deviation. Many factors that move one unknown together overshoot: each
// step back is followed by a shorter one, each step onward by a longer one.
const (
	maxSweeps  = 150
	settled    = 2e-5
	fullStep   = 0.9
	leastStep  = 0.05
	leastShare = 1e-3 // points of the grid that weigh less are left out
)

// state is one point of the grid of scatters, and one part of the globals' prior.
type state struct {
	scatter   Scatter
	part      part
	hatched   [][]site // by group and hatched egg
	wide      [][]float64
	waiting   []site // by group
	evidence  []site // of each group in all
	sums      []blockSum
	globals   symmetric // covariance
	mean      []float64
	needs     []moments // by group, at the last sweep
	logWeight float64
	sweeps    int
}

// Posterior is what all eggs together say.
type Posterior struct {
	tree   *tree
	states []*state
}

// Infer gives the posterior of a problem; false where a prior is not positive definite.
// From, which may be nil, is the posterior of a problem with the same groups but other
// heat met by eggs that wait: it is where the steps begin.
func Infer(p Problem, from *Posterior) (*Posterior, bool) {
	t, ok := newTree(p)
	if !ok {
		return nil, false
	}
	out := &Posterior{tree: t}
	grid := Scatters()
	begun := map[Scatter][]*state{} // of from, by scatter without its weight
	if from != nil {
		for _, s := range from.states {
			begun[s.scatter.unweighted()] = append(begun[s.scatter.unweighted()], s)
		}
		grid = slices.DeleteFunc(grid, func(x Scatter) bool { return begun[x.unweighted()] == nil })
	}
	var first *state
	parts := t.parts()
	for _, x := range grid {
		for _, part := range parts {
			begin := first
			for _, s := range begun[x.unweighted()] {
				if begin = s; s.part.site == part.site {
					break
				}
			}
			s := t.begin(x, part, begin)
			t.settle(s)
			s.logWeight += part.logWeight + math.Log(x.Weight)
			out.states = append(out.states, s)
			if first == nil {
				first = s
			}
		}
	}
	top := math.Inf(-1)
	for _, s := range out.states {
		top = max(top, s.logWeight)
	}
	var sum float64
	for _, s := range out.states {
		s.scatter.Weight = math.Exp(s.logWeight - top)
		sum += s.scatter.Weight
	}
	kept, left := out.states[:0], 0.0
	for _, s := range out.states {
		if s.scatter.Weight /= sum; s.scatter.Weight >= leastShare {
			kept = append(kept, s)
			left += s.scatter.Weight
		}
	}
	for _, s := range kept {
		s.scatter.Weight /= left
	}
	out.states = kept
	return out, true
}

// Middle is the mean of the globals at the middle of the scatters alone; false where a
// prior is not positive definite.
func Middle(p Problem) ([]float64, bool) {
	t, ok := newTree(p)
	if !ok {
		return nil, false
	}
	s := t.begin(Scatters()[0], part{}, nil)
	t.settle(s)
	return s.mean, true
}

func (t *tree) begin(x Scatter, part part, from *state) *state {
	s := &state{scatter: x, part: part, waiting: make([]site, len(t.nodes)), evidence: make([]site, len(t.nodes)), needs: make([]moments, len(t.nodes))}
	s.hatched, s.wide = make([][]site, len(t.nodes)), make([][]float64, len(t.nodes))
	for i, g := range t.p.Groups {
		s.hatched[i], s.wide[i] = make([]site, len(g.Hatched)), make([]float64, len(g.Hatched))
		if from != nil {
			copy(s.hatched[i], from.hatched[i])
			s.waiting[i] = from.waiting[i]
		}
	}
	return s
}

// settle steps until the factors agree.
func (t *tree) settle(s *state) {
	step := fullStep
	for s.sweeps < maxSweeps {
		t.gather(s)
		moved, onward := t.sweep(s, step)
		s.sweeps++
		if moved < settled {
			break
		}
		if onward {
			step = min(fullStep, 1.3*step)
		} else {
			step = max(leastStep, 0.6*step)
		}
	}
	t.gather(s)
	s.logWeight = t.logEvidence(s)
}

// gather makes the posterior of the globals from the factors.
func (t *tree) gather(s *state) {
	for i := range t.nodes {
		e := s.waiting[i]
		for _, h := range s.hatched[i] {
			e = e.plus(h)
		}
		s.evidence[i] = e
	}
	precision, shift := t.prior.clone(), make([]float64, t.p.Globals)
	precision.add(s.part.along, s.part.site.precision)
	for i, v := range s.part.along {
		shift[i] += s.part.site.shift * v
	}
	if s.sums == nil {
		s.sums = make([]blockSum, len(t.blocks))
	}
	for b := range t.blocks {
		t.sum(b, s.scatter, s.evidence, &s.sums[b])
		for i, at := range t.blocks[b].globals {
			shift[at] += s.sums[b].shift[i]
			for j, to := range t.blocks[b].globals {
				precision[at][to] += s.sums[b].precision[i][j]
			}
		}
	}
	covariance, logDet, ok := precision.inverse()
	if !ok { // cannot be: no factor has a negative precision
		covariance, logDet, _ = t.prior.inverse()
	}
	s.globals, s.mean = covariance, covariance.times(shift)
	s.logWeight = -0.5 * logDet
}

// over is a covariance and a mean over the globals of a block.
func (t *tree) over(s *state, b int) (symmetric, []float64) {
	globals := t.blocks[b].globals
	c, m := newSymmetric(len(globals)), make([]float64, len(globals))
	for i, at := range globals {
		m[i] = s.mean[at]
		for j, to := range globals {
			c[i][j] = s.globals[at][to]
		}
	}
	return c, m
}

// moments are those of what a group's eggs need in the middle, and the mean's last step.
type moments struct{ mean, variance, step float64 }

// sweep renews all factors, each against the posterior without it. It gives the largest
// move of a group's need since the last sweep, in standard deviations, and whether needs
// move on in the direction of the sweep before.
func (t *tree) sweep(s *state, by float64) (moved float64, onward bool) {
	var along float64
	for b := range t.blocks {
		covariance, mean := t.over(s, b)
		for _, groups := range t.blocks[b].clutches {
			for _, i := range groups {
				g := &t.p.Groups[i]
				if len(g.Hatched) == 0 && len(g.Waiting) == 0 {
					continue
				}
				m, v := t.need(s, b, i, covariance, mean)
				last := s.needs[i]
				now := moments{m, v, (m - last.mean) / math.Sqrt(v)}
				moved = max(moved, math.Abs(now.step), math.Abs(v-last.variance)/v)
				along += now.step * last.step
				s.needs[i] = now
				t.renew(s, i, m, v, by)
			}
		}
	}
	return moved, along >= 0
}

// need is the posterior of what a group's eggs need in the middle.
func (t *tree) need(s *state, b, i int, covariance symmetric, mean []float64) (m, v float64) {
	o := s.sums[b].offset(&t.nodes[i], s.evidence[i], t.row)
	for j, x := range t.nodes[i].row {
		o.row[j] += x
	}
	return o.constant + dot(o.row, mean), o.variance + covariance.quadratic(o.row)
}

// renew renews the factors of a group.
func (t *tree) renew(s *state, i int, mean, variance, by float64) {
	g := &t.p.Groups[i]
	for k, h := range g.Hatched {
		if m, v, ok := without(mean, variance, s.hatched[i][k]); ok {
			x, wide := hatched(m, v, h, s.scatter.Egg)
			s.wide[i][k] = wide
			s.hatched[i][k] = s.hatched[i][k].damped(factor(m, v, x), by)
		}
	}
	if len(g.Waiting) == 0 {
		return
	}
	if m, v, ok := without(mean, variance, s.waiting[i]); ok {
		next := site{}
		if !nothingSaid(m, v, g.Waiting, s.scatter.Egg) {
			next = factor(m, v, waited(m, v, g.Waiting, t.nodes[i].dead, s.scatter.Egg))
		}
		s.waiting[i] = s.waiting[i].damped(next, by)
	}
}

// without is a normal without one factor.
func without(mean, variance float64, s site) (m, v float64, ok bool) {
	precision := 1/variance - s.precision
	if !(precision > 1e-9) {
		return 0, 0, false
	}
	return (mean/variance - s.shift) / precision, 1 / precision, true
}

// factor is the normal factor that turns a cavity into what it was tilted to. One that
// would widen it moves its mean alone.
func factor(m, v float64, x tilted) site {
	precision := 1/x.variance - 1/v
	if !(precision > 0) {
		return site{0, (x.mean - m) / v}
	}
	return site{precision, x.mean/x.variance - m/v}
}

// logEvidence is the log of the evidence of a point of the grid (Rasmussen & Williams
// 2006, equation 3.65, for factors of a tree).
func (t *tree) logEvidence(s *state) float64 {
	out := s.logWeight // of the globals
	if s.part.along != nil {
		out += 0.5 * s.part.site.shift * dot(s.part.along, s.mean)
	}
	for b := range t.blocks {
		out -= 0.5 * s.sums[b].logDet
		covariance, mean := t.over(s, b)
		for _, groups := range t.blocks[b].clutches {
			for _, i := range groups {
				m, v := t.need(s, b, i, covariance, mean)
				out += 0.5*s.evidence[i].shift*m + t.logEvidenceOf(s, i, m, v)
			}
		}
	}
	return out
}

// logEvidenceOf is what the eggs of a group add, whose need has a mean and a variance.
func (t *tree) logEvidenceOf(s *state, i int, m, v float64) (out float64) {
	g := &t.p.Groups[i]
	for k, h := range g.Hatched {
		if cm, cv, ok := without(m, v, s.hatched[i][k]); ok {
			x, _ := hatched(cm, cv, h, s.scatter.Egg)
			out += logScale(cm, cv, s.hatched[i][k], x.logMass)
		}
	}
	if len(g.Waiting) == 0 {
		return out
	}
	if cm, cv, ok := without(m, v, s.waiting[i]); ok && !nothingSaid(cm, cv, g.Waiting, s.scatter.Egg) {
		x := waited(cm, cv, g.Waiting, t.nodes[i].dead, s.scatter.Egg)
		out += logScale(cm, cv, s.waiting[i], x.logMass)
	}
	return out
}

// logScale is the log of the constant with which a factor has the mass of what it stands
// for under a cavity.
func logScale(m, v float64, s site, logMass float64) float64 {
	left := 1 + s.precision*v
	return logMass + 0.5*math.Log(left) - (s.shift*s.shift*v+2*s.shift*m-s.precision*m*m)/(2*left)
}
