package joint

import "math"

// tilted is a normal cavity times one factor of evidence: its mass, mean and variance.
type tilted struct{ logMass, mean, variance float64 }

// wideScatter is how many times as wide the scatter of an outlier is (our choice).
const wideScatter = 5

const rootTwoPi = 2.5066282746310002

// hatched is a cavity times what an egg says that hatched, and the probability that it is
// an outlier. Its interval counts as normal, with the interval's own variance.
func hatched(mean, variance float64, h Hatch, egg float64) (tilted, float64) {
	y, width := (h.Low+h.High)/2, h.High-h.Low
	interval := width * width / 12
	var mass, first, second [2]float64
	for i, x := range [2]struct{ share, scatter float64 }{{1 - h.Outlier, egg}, {h.Outlier, wideScatter * egg}} {
		noise := x.scatter*x.scatter + interval
		sum := variance + noise
		off := y - mean
		mass[i] = math.Log(x.share) - 0.5*off*off/sum - 0.5*math.Log(sum)
		first[i] = mean + variance/sum*off
		second[i] = variance * noise / sum
	}
	top := max(mass[0], mass[1])
	a, b := math.Exp(mass[0]-top), math.Exp(mass[1]-top)
	wide := b / (a + b)
	m := first[0] + wide*(first[1]-first[0])
	d := first[1] - first[0]
	v := second[0] + wide*(second[1]-second[0]) + wide*(1-wide)*d*d
	return tilted{top + math.Log((a+b)/rootTwoPi), m, v}, wide
}

// The quadrature over a group's own need: evenly spaced points, which for a normal times
// a smooth step is exact far below what matters.
const (
	waitNodes = 41
	waitReach = 5.0 // standard deviations of the cavity to either side
)

// normalNodes are the points and weights of a standard normal.
var normalNodes = func() (all [waitNodes]struct{ at, weight float64 }) {
	var sum float64
	for i := range all {
		z := -waitReach + 2*waitReach*float64(i)/(waitNodes-1)
		all[i].at, all[i].weight = z, math.Exp(-z*z/2)
		sum += all[i].weight
	}
	for i := range all {
		all[i].weight /= sum
	}
	return all
}()

// nothingSaid reports that eggs that wait are so far from their need that their waiting
// says nothing.
func nothingSaid(mean, variance float64, waiting []Wait, egg float64) bool {
	reach := mean - 6*math.Sqrt(variance+egg*egg)
	for _, w := range waiting {
		if w.Met > reach {
			return false
		}
	}
	return true
}

// waited is a cavity times what eggs say that wait: each needs more than it has met, or is
// dead. The share of dead eggs is the same for all of them, and not known.
func waited(mean, variance float64, waiting []Wait, dead []weighted, egg float64) tilted {
	sd := math.Sqrt(variance)
	var mass, first, second float64
	for _, x := range normalNodes {
		f := mean + sd*x.at
		w := x.weight * waitLikelihood(f, waiting, dead, egg)
		mass += w
		first += w * x.at
		second += w * x.at * x.at
	}
	m := first / mass
	return tilted{math.Log(mass), mean + sd*m, variance * (second/mass - m*m)}
}

// waitLikelihood is the probability that all of these eggs wait, of a group whose eggs need
// f in the middle.
func waitLikelihood(f float64, waiting []Wait, dead []weighted, egg float64) (sum float64) {
	var above [16]float64
	left := above[:0]
	last, p := math.NaN(), 0.0
	for _, w := range waiting {
		if w.Met != last {
			last, p = w.Met, below((f-w.Met)/egg)
		}
		left = append(left, p)
	}
	for _, d := range dead {
		all := d.weight
		for i, p := range left {
			q := deadNow(d.share, waiting[i].Alive)
			all *= q + (1-q)*p
		}
		sum += all
	}
	return sum
}

// deadNow is the probability that an egg is dead that was alive at a share of its way,
// where a share of all eggs die, evenly along the way.
func deadNow(share, alive float64) float64 {
	return share * (1 - alive) / (1 - share*alive)
}

// below is the standard normal distribution.
func below(z float64) float64 { return 0.5 * math.Erfc(-z/math.Sqrt2) }
