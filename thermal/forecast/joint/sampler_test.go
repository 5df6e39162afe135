package joint

import (
	"math"
	"math/rand/v2"
	"testing"
)

// sampled is the mean and standard deviation of each group's need without scatter of an
// egg, by elliptical slice sampling (Murray et al. 2010, AISTATS 9:541) over all unknowns
// and Metropolis steps over the grid of scatters. It linearises nothing else than the
// inference does, and approximates nothing.
func sampled(p Problem, steps int, seed uint64) (mean, sd []float64, total float64) {
	rnd := rand.New(rand.NewPCG(seed, 1))
	grid := Scatters()
	at := 0
	roots := make([][][]float64, len(p.Priors))
	for i, n := range p.Priors {
		roots[i] = cholesky(n.Covariance)
	}
	n := p.Globals
	dams, clutches := map[int]int{}, map[[2]int]int{}
	for _, g := range p.Groups {
		if _, ok := dams[g.Dam]; !ok {
			dams[g.Dam] = n
			n++
		}
		if _, ok := clutches[[2]int{g.Dam, g.Clutch}]; !ok {
			clutches[[2]int{g.Dam, g.Clutch}] = n
			n++
		}
	}
	own := n
	n += len(p.Groups)
	needs := func(z []float64, s Scatter) []float64 {
		globals := make([]float64, p.Globals)
		for i, prior := range p.Priors {
			for r := range roots[i] {
				for c := 0; c <= r; c++ {
					globals[prior.First+r] += roots[i][r][c] * z[prior.First+c]
				}
			}
		}
		f := make([]float64, len(p.Groups))
		for i, g := range p.Groups {
			for _, term := range g.Terms {
				f[i] += term.Value * globals[term.Global]
			}
			f[i] += s.Dam*z[dams[g.Dam]] + math.Sqrt(s.Clutch*s.Clutch+g.ClutchVar)*z[clutches[[2]int{g.Dam, g.Clutch}]]
			f[i] += math.Sqrt(g.OwnVar) * z[own+i]
		}
		return f
	}
	likelihood := func(z []float64, s Scatter) (sum float64) {
		for i, f := range needs(z, s) {
			g := p.Groups[i]
			for _, h := range g.Hatched {
				density := func(scatter float64) float64 {
					return (below((h.High-f)/scatter) - below((h.Low-f)/scatter)) / (h.High - h.Low)
				}
				sum += math.Log((1-h.Outlier)*density(s.Egg) + h.Outlier*density(wideScatter*s.Egg))
			}
			if len(g.Waiting) > 0 {
				sum += math.Log(waitLikelihood(f, g.Waiting, betaNodes(g.Dead, g.Live), s.Egg))
			}
		}
		return sum
	}
	z := make([]float64, n)
	now := likelihood(z, grid[at])
	mean, sd = make([]float64, len(p.Groups)), make([]float64, len(p.Groups))
	count := 0.0
	for step := range steps {
		nu := make([]float64, n)
		for i := range nu {
			nu[i] = rnd.NormFloat64()
		}
		level := now + math.Log(rnd.Float64())
		theta := 2 * math.Pi * rnd.Float64()
		low, high := theta-2*math.Pi, theta
		for {
			next := make([]float64, n)
			for i := range next {
				next[i] = z[i]*math.Cos(theta) + nu[i]*math.Sin(theta)
			}
			if l := likelihood(next, grid[at]); l > level {
				z, now = next, l
				break
			}
			if theta < 0 {
				low = theta
			} else {
				high = theta
			}
			theta = low + (high-low)*rnd.Float64()
		}
		to := rnd.IntN(len(grid))
		l := likelihood(z, grid[to])
		if math.Log(rnd.Float64()) < l-now+math.Log(grid[to].Weight/grid[at].Weight) {
			at, now = to, l
		}
		if step < steps/10 {
			continue
		}
		count++
		total += grid[at].Total()
		for i, f := range needs(z, grid[at]) {
			mean[i] += f
			sd[i] += f * f
		}
	}
	for i := range mean {
		mean[i] /= count
		sd[i] = math.Sqrt(sd[i]/count - mean[i]*mean[i])
	}
	return mean, sd, total / count
}

func cholesky(m [][]float64) [][]float64 {
	l := make([][]float64, len(m))
	for i := range m {
		l[i] = make([]float64, len(m))
		for j := 0; j <= i; j++ {
			sum := m[i][j]
			for k := range j {
				sum -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][j] = math.Sqrt(sum)
			} else {
				l[i][j] = sum / l[j][j]
			}
		}
	}
	return l
}

// house is a book of one species: level, slope, house and one probe.
func house(groups ...Group) Problem {
	p := Problem{Globals: 4, Priors: []Normal{
		{0, [][]float64{{0.0244, 0.0001}, {0.0001, 0.0004}}},
		{2, [][]float64{{0.075 * 0.075}}},
		{3, [][]float64{{0.09}}},
	}}
	for _, g := range groups {
		g.Terms = append([]Term{{0, 1}, {2, 1}, {3, -0.1}}, g.Terms...)
		g.Dead, g.Live = 1+g.Dead, 3+g.Live
		p.Groups = append(p.Groups, g)
	}
	return p
}

func hatchAt(y ...float64) (all []Hatch) {
	for _, v := range y {
		all = append(all, Hatch{v - 0.005, v + 0.005, 0.02})
	}
	return all
}

func waitAt(y ...float64) (all []Wait) {
	for _, v := range y {
		all = append(all, Wait{Met: v})
	}
	return all
}

// The inference agrees with a sampler in small books of every kind of egg.
func TestAgreesWithSampler(t *testing.T) {
	for _, x := range []struct {
		name   string
		within float64 // of the standard deviations, as a share
		groups []Group
	}{
		{"nothing known", 0.05, []Group{{Dam: 1, Clutch: 1}}},
		{"one clutch hatched", 0.05, []Group{{Dam: 1, Clutch: 1, Hatched: hatchAt(0.10, 0.14), Live: 2}, {Dam: 1, Clutch: 2}, {Dam: 2, Clutch: 3}}},
		{"a mate hatched", 0.05, []Group{{Dam: 1, Clutch: 1, Hatched: hatchAt(0.10), Live: 1, Waiting: waitAt(0.11)}, {Dam: 1, Clutch: 2, Waiting: waitAt(-0.2)}}},
		// All dead, or all slow: no normal has that shape.
		{"eight clutches wait", 0.1, []Group{
			{Dam: 1, Clutch: 1, Waiting: waitAt(0.1, 0.1)}, {Dam: 1, Clutch: 2, Waiting: waitAt(0.05, 0.05)},
			{Dam: 2, Clutch: 3, Waiting: waitAt(0.1, 0.1)}, {Dam: 2, Clutch: 4, Waiting: waitAt(0, 0)},
			{Dam: 3, Clutch: 5, Waiting: waitAt(0.1, 0.1)}, {Dam: 3, Clutch: 6, Waiting: waitAt(-0.1, -0.1)},
			{Dam: 4, Clutch: 7, Waiting: waitAt(0.1, 0.1)}, {Dam: 4, Clutch: 8, Waiting: waitAt(-0.3, -0.3)},
		}},
		{"an outlier among five", 0.1, []Group{
			{Dam: 1, Clutch: 1, Hatched: hatchAt(0.02, 0.03), Live: 2}, {Dam: 2, Clutch: 2, Hatched: hatchAt(0.05), Live: 1},
			{Dam: 3, Clutch: 3, Hatched: hatchAt(0.01, 0.30), Live: 2}, {Dam: 3, Clutch: 4, Waiting: waitAt(0.0), OwnVar: 0.0004, ClutchVar: 0.0009},
		}},
		{"a forgotten egg", 0.05, []Group{{Dam: 1, Clutch: 1, Hatched: hatchAt(0.10), Live: 1, Waiting: waitAt(0.45)}, {Dam: 1, Clutch: 2}}},
	} {
		p := house(x.groups...)
		post, ok := Infer(p, nil)
		if !ok {
			t.Fatalf("%s: no posterior", x.name)
		}
		mean, sd, total := sampled(p, 20000, 7)
		var totalEP float64
		for _, s := range post.Scatters() {
			totalEP += s.Weight * s.Total()
		}
		t.Logf("%s: scatter in all %.4f, sampled %.4f", x.name, totalEP, total)
		for i := range p.Groups {
			m, s := post.marginal(i)
			t.Logf("  group %d: %.4f +- %.4f, sampled %.4f +- %.4f", i, m, s, mean[i], sd[i])
			if math.Abs(m-mean[i]) > 0.1*sd[i] || math.Abs(s/sd[i]-1) > x.within {
				t.Errorf("%s: group %d needs %.4f +- %.4f, sampled %.4f +- %.4f", x.name, i, m, s, mean[i], sd[i])
			}
		}
		if math.Abs(totalEP/total-1) > 0.06 {
			t.Errorf("%s: the scatters are %.4f together, sampled %.4f", x.name, totalEP, total)
		}
	}
}

// The parts of a prior add up to it: their mean and variance along the sum are the prior's.
func TestPartsAddUp(t *testing.T) {
	p := house(Group{Dam: 1, Clutch: 1, Waiting: waitAt(0.1)}, Group{Dam: 2, Clutch: 2, Waiting: waitAt(0)})
	tree, _ := newTree(p)
	parts := tree.parts()
	if len(parts) != 2*partReach+1 {
		t.Fatalf("%d parts", len(parts))
	}
	covariance, _, _ := tree.prior.inverse()
	whole := covariance.quadratic(parts[0].along)
	var mass, mean, second float64
	for _, x := range parts {
		left := 1 + x.site.precision*whole
		// The mass of the prior times the factor, and the normal that this is.
		weight := math.Exp(x.logWeight - 0.5*math.Log(left) + x.site.shift*x.site.shift*whole/(2*left))
		m, v := x.site.shift*whole/left, whole/left
		mass += weight
		mean += weight * m
		second += weight * (v + m*m)
	}
	if math.Abs(mass-1) > 1e-9 || math.Abs(mean) > 1e-9 || math.Abs(second/whole-1) > 1e-9 {
		t.Errorf("mass %.4f, mean %.4f, variance %.4f of %.4f", mass, mean, second, whole)
	}
	if n := len(func() []part {
		tree, _ := newTree(house(Group{Dam: 1, Clutch: 1, Waiting: waitAt(0.1, 0.1)}))
		return tree.parts()
	}()); n != 1 {
		t.Errorf("%d parts for one clutch", n)
	}
}

// marginal is the posterior of a group's need with all evidence.
func (p *Posterior) marginal(i int) (mean, sd float64) {
	var second float64
	for _, s := range p.states {
		b := p.tree.nodes[i].block
		c, m := p.tree.over(s, b)
		x, v := p.tree.need(s, b, i, c, m)
		mean += s.scatter.Weight * x
		second += s.scatter.Weight * (v + x*x)
	}
	return mean, math.Sqrt(second - mean*mean)
}
