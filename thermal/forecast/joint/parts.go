package joint

import "math"

// part is one part of the globals' prior: the prior times a normal factor of one sum of the
// globals. All parts together are the prior.
type part struct {
	along     []float64 // how much each global counts in the sum; nil: the whole prior
	site      site
	logWeight float64
}

// Where hardly an egg has hatched, clutches that wait are all slow, or all dead: no normal has
// that shape. Then the prior is split into parts along what they need in common, and each part
// is inferred apart. In every other book one part is enough.
const (
	fewHatched = 3    // hatched eggs that settle it (our choice)
	leastMet   = -2.5 // heat that says something by being met, in standard deviations of the prior
	partSD     = 0.6  // of a part, over that of the prior
	partStep   = 0.9  // between parts, over the same
	partReach  = 2    // parts to either side of the middle
)

// parts are those of the prior of a problem.
func (t *tree) parts() []part {
	along := make([]float64, t.p.Globals)
	hatched, waiting := 0, 0.0
	for _, g := range t.p.Groups {
		hatched += len(g.Hatched)
		for range g.Waiting {
			waiting++
			for _, term := range g.Terms {
				along[term.Global] += term.Value
			}
		}
	}
	covariance, _, ok := t.prior.inverse()
	if hatched >= fewHatched || waiting == 0 || !ok {
		return []part{{}}
	}
	for i := range along {
		along[i] /= waiting
	}
	variance := covariance.quadratic(along)
	waited := map[int]bool{}
	for _, g := range t.p.Groups {
		for _, w := range g.Waiting {
			if w.Met > leastMet*math.Sqrt(variance) {
				waited[g.Clutch] = true
			}
		}
	}
	if len(waited) < 2 { // a clutch's own waiting is left out of its need
		return []part{{}}
	}
	// Evenly spaced normals, of weights that are normal too, add up to a normal. The ends are cut
	// off, so the rest is drawn out until the variance is that of the prior.
	const spread = 1 - partSD*partSD
	weights := make([]float64, 2*partReach+1)
	var sum, second float64
	for i := range weights {
		at := partStep * float64(i-partReach)
		weights[i] = math.Exp(-at * at / (2 * spread))
		sum += weights[i]
		second += weights[i] * at * at
	}
	step := partStep * math.Sqrt(variance*spread*sum/second)
	precision := (1/(partSD*partSD) - 1) / variance
	left := 1 + precision*variance
	all := make([]part, len(weights))
	for i, weight := range weights {
		shift := step * float64(i-partReach) / (partSD * partSD * variance)
		all[i] = part{
			along: along, site: site{precision, shift},
			logWeight: math.Log(weight/sum) + 0.5*math.Log(left) - shift*shift*variance/(2*left),
		}
	}
	return all
}
