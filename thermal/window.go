package thermal

import (
	"math"
	"time"
)

// Laid is the interval in which a clutch was laid. Every moment in it is equally
// likely.
type Laid struct{ Earliest, Latest time.Time }

// Heat is the exposure of one clutch's eggs so far.
type Heat struct {
	Laid
	Since    Exposure // from Latest until now
	Before   Exposure // between Earliest and Latest
	ProbeSD  float64  // K: how wrong the temperatures may all be together
	Arrested bool     // development has stopped, and only the breeder can say when it goes on
}

// Window is the interval in which to look for a hatch. CheckFrom and LateAfter leave out
// that the eggs have not hatched yet, so that time alone moves neither; the others are
// given that they have not.
type Window struct {
	CheckFrom time.Time // the first of the eggs has hatched with a probability of 10 %
	Likely    time.Time // half have hatched; zero: any day now, or not at all
	LateAfter time.Time // 95 % of eggs like these have hatched

	// Low80, High80 and High95 are when 10, 90 and 95 % of eggs have hatched that have not
	// hatched yet; zero where none can wait.
	Low80, High80, High95 time.Time

	Late bool // LateAfter has passed

	// None is the reason why there is no window, in plain words; all times are then
	// zero. It is empty when there is a window.
	None string

	Developed     float64 // share of the way, 0..1
	DevelopedLow  float64 // its 80 % interval
	DevelopedHigh float64

	Because []string // plain words; the first says what makes the window wide
	Why     Why      // the width by its causes
}

// Exists reports whether there is a window.
func (w Window) Exists() bool { return w.None == "" }

// Outlook is a climate seen through one belief's rate from one moment on. All clutches
// of a zone under one rate can share it.
type Outlook struct {
	belief Belief
	sum    *Summation
	coming course
	now    time.Time
}

// Outlook works the climate out for a belief.
func (c Climate) Outlook(b Belief, now time.Time) *Outlook {
	s := b.Summation()
	return &Outlook{belief: b, sum: s, coming: c.course(s.kernel), now: now}
}

// Beyond the tested ends a window is wider: a kelvin outside, all the way, may change the
// log of the days by so much, one standard deviation, which is as much as a kelvin inside
// does. Where all that is felt and expected is so many kelvin colder than was tested, in
// the mean, there is no window. Our choice.
const (
	outsideSD  = 0.08 // a kelvin
	coldLimitK = 2.0
)

// Window computes the hatch window of a clutch of one egg whose eggs felt this heat, by the
// outlook's belief alone.
func (o *Outlook) Window(h Heat) Window { return o.WindowOf(h, o.eggs(h)) }

// WindowOf computes the hatch window of eggs that felt this heat.
func (o *Outlook) WindowOf(h Heat, eggs Eggs) Window {
	f := o.forecast(h, eggs)
	w := Window{}
	w.DevelopedLow, w.Developed, w.DevelopedHigh = f.developed()
	if h.Arrested {
		w.None = "development is arrested: no window until you mark its end"
		return w
	}
	if math.IsNaN(o.coming.mean) {
		w.None = "nothing is known of the temperature to come"
		return w
	}
	middle, ok := f.quantile(0.5, func(days float64) float64 { return f.hatched(days, false) })
	late, found := f.quantile(0.95, func(days float64) float64 { return f.hatched(days, true) })
	if !ok || !found || f.tooCold(middle) {
		w.None = TooColdReason
		return w
	}
	check, _ := f.quantile(0.10, f.first)
	w.CheckFrom, w.LateAfter = o.at(check), o.at(late)
	w.Late = late < 0
	f.likely(&w, check, late)
	w.Why = f.why(late-check, middle)
	w.Because = f.because(&w)
	return w
}

// likely adds the times that are given that no egg has hatched yet.
func (f *forecast) likely(w *Window, check, late float64) {
	given := f.waiting()
	if given == nil {
		return
	}
	if middle, ok := f.quantile(0.5, given); ok && math.Max(middle, 0) <= late {
		w.Likely = f.o.at(math.Max(math.Max(middle, 0), check))
	}
	for _, x := range [...]struct {
		p  float64
		at *time.Time
	}{{0.10, &w.Low80}, {0.90, &w.High80}, {0.95, &w.High95}} {
		days, ok := f.quantile(x.p, given)
		if !ok {
			days = maxForecastDays
		}
		*x.at = f.o.at(math.Max(days, 0))
	}
}

func (o *Outlook) at(days float64) time.Time {
	return o.now.Add(time.Duration(days * 24 * float64(time.Hour)))
}

// forecast is one group's heat before an outlook.
type forecast struct {
	o             *Outlook
	eggs          Eggs
	since, before dose
	past          dose
	layDays       float64
	age           float64 // days
}

func (o *Outlook) forecast(h Heat, eggs Eggs) *forecast {
	f := &forecast{o: o, eggs: eggs}
	f.since = o.sum.Exposure(&h.Since, o.coming.mean).d
	f.before = o.sum.Exposure(&h.Before, o.coming.mean).d
	f.past = f.since.plus(f.before.times(0.5))
	f.layDays = h.Latest.Sub(h.Earliest).Hours() / 24
	f.age = f.past.days
	return f
}

// point is the heat that is met some days from now: its log, its row over the numbers of a
// need, and the variance by the climate to come and by temperatures that were never tested.
type point struct {
	met              float64
	row              []float64
	climate, outside float64
}

func (f *forecast) point(days float64) point {
	coming := f.o.coming.after(days)
	all := f.past.plus(coming)
	w := all.worth
	p := point{met: math.Inf(-1), row: make([]float64, 3+len(f.eggs.Shares))}
	p.row[0] = 1
	if !(w.days > 0) {
		return p
	}
	p.met = math.Log(w.days)
	p.row[1], p.row[2] = -w.bySlope/w.days, -w.byBend/w.days
	for i, share := range f.eggs.Shares {
		kelvin := share * f.past.worth.byKelvin
		if i == 0 {
			kelvin += coming.worth.byKelvin
		}
		p.row[3+i] = -kelvin / w.days
	}
	climate := f.o.coming.sd * math.Max(0, coming.worth.byKelvin) / w.days
	p.climate = climate * climate
	outside := outsideSD * math.Max(0, all.outside) / all.days
	p.outside = outside * outside
	return p
}

// off is how far the heat of a point lies above what is needed in the middle, and the
// variance of that, the climate to come left out.
func (f *forecast) off(p *point, n *Need) (off, variance float64) {
	off = p.met - n.Mean[0] - p.row[1]*(n.Mean[1]-f.o.sum.kernel.slope) - p.row[2]*(n.Mean[2]-f.o.sum.kernel.bend)
	for i := 3; i < len(p.row); i++ {
		off -= p.row[i] * n.Mean[i]
	}
	for i, x := range p.row {
		for j, y := range p.row {
			variance += x * y * n.Covariance[i][j]
		}
	}
	return off, math.Max(0, variance) + p.outside
}

// hatched is the share of eggs like these that have hatched some days from now, with the heavy
// tails of what is published or as if all was normal.
func (f *forecast) hatched(days float64, heavy bool) (sum float64) {
	p := f.point(days)
	for i := range f.eggs.Open {
		n := &f.eggs.Open[i]
		off, v := f.off(&p, n)
		all := v + p.climate + n.Egg*n.Egg
		t := normal
		if heavy {
			t = heavyTails(n.Published * v / all)
		}
		sum += n.Weight * t.below(off/math.Sqrt(all))
	}
	return sum
}

// first is the probability that the first of the eggs that will hatch has hatched some days
// from now.
func (f *forecast) first(days float64) (sum float64) {
	if f.eggs.Waiting < 2 {
		return f.hatched(days, false)
	}
	alive := f.eggs.living()
	p := f.point(days)
	for i := range f.eggs.Open {
		n := &f.eggs.Open[i]
		off, v := f.off(&p, n)
		sd := math.Sqrt(v + p.climate)
		for _, x := range normalNodes {
			wait := normal.below(-(off - sd*x.at) / n.Egg)
			var none float64
			for k := len(alive) - 1; k >= 0; k-- {
				none = (none + alive[k]) * wait
			}
			sum += n.Weight * x.weight * (1 - none)
		}
	}
	return sum
}

// living is how likely it is that so many of the eggs that wait are alive, from one on, where
// one is at least.
func (e *Eggs) living() []float64 {
	all := make([]float64, e.Waiting)
	if len(e.Alive) != e.Waiting {
		all[e.Waiting-1] = 1
		return all
	}
	var sum float64
	for k, p := range e.Alive { // which counts each number once for each egg that is alive
		all[k] = p / float64(k+1)
		sum += all[k]
	}
	for k := range all {
		all[k] /= sum
	}
	return all
}

// waiting is the share that has hatched some days from now of eggs that had not by the last
// look, nor had the others of their group, the dead left out. It is nil where none can wait.
func (f *forecast) waiting() func(days float64) float64 {
	look := f.point(-f.o.now.Sub(f.eggs.Look).Hours() / 24)
	alive := f.eggs.Alive
	if alive == nil {
		alive = make([]float64, f.eggs.Waiting)
		alive[len(alive)-1] = 1
	}
	type part struct{ at, weight, wait float64 } // of a node, and that its egg waits
	parts := make([][]part, len(f.eggs.Now))
	var all float64
	for i := range f.eggs.Now {
		n := &f.eggs.Now[i]
		off, v := f.off(&look, n)
		sd, nodes := math.Sqrt(v), normalNodes[:]
		if normal.below(-(off-sd*nodes[0].at)/n.Egg) > 1-1e-12 { // far from hatching: at every node its egg waits
			nodes = []node{{weight: 1}}
		}
		for _, x := range nodes {
			wait := normal.below(-(off - sd*x.at) / n.Egg)
			var others float64
			for j := len(alive) - 1; j >= 0; j-- {
				others = others*wait + alive[j]
			}
			p := part{x.at, n.Weight * x.weight * others, wait}
			parts[i] = append(parts[i], p)
			all += p.weight * wait
		}
	}
	if !(all > 1e-12) {
		return nil
	}
	return func(days float64) (sum float64) {
		p := f.point(math.Max(0, days))
		for i := range f.eggs.Now {
			n := &f.eggs.Now[i]
			off, v := f.off(&p, n)
			sd, scatter := math.Sqrt(v), n.Egg*n.Egg+p.climate
			if len(parts[i]) == 1 {
				scatter += v // one node stands for all
			}
			for _, w := range parts[i] {
				sum += w.weight * math.Max(0, normal.below((off-sd*w.at)/math.Sqrt(scatter))-(1-w.wait))
			}
		}
		return sum / all
	}
}

// tooCold reports that what was felt and is expected until some day is far colder than was
// ever tested.
func (f *forecast) tooCold(days float64) bool {
	all := f.past.plus(f.o.coming.after(days))
	coldest := f.o.sum.kernel.coldest
	return coldest != 0 && all.heat/all.days < coldest-coldLimitK
}

// quantile is the days from now until a growing share reaches p. It may lie in the past,
// down to the laying.
func (f *forecast) quantile(p float64, share func(days float64) float64) (float64, bool) {
	const within = 1.0 / (24 * 60) // a minute
	lo, hi := 0.0, 0.0
	below := share(0) - p
	above := below
	for step := 1.0; above < 0; step *= 2 {
		if lo, below = hi, above; lo > maxForecastDays {
			return math.NaN(), false
		}
		hi += step
		above = share(hi) - p
	}
	for step := 1.0; below >= 0; step *= 2 {
		if hi, above = lo, below; hi <= -f.age {
			return -f.age, true
		}
		lo = math.Max(lo-step, -f.age)
		below = share(lo) - p
	}
	// Regula falsi, the end that stays halved (Illinois); a bracket that will not
	// shrink is cut in two.
	side := 0
	for i := 0; hi-lo > within; i++ {
		mid := hi - above*(hi-lo)/(above-below)
		if i%4 == 3 || !(mid > lo && mid < hi) {
			mid = (lo + hi) / 2
		}
		v := share(mid) - p
		if math.Abs(v) < 1e-7 {
			return mid, true
		}
		if v > 0 {
			if hi, above = mid, v; side > 0 {
				below /= 2
			}
			side = 1
		} else {
			if lo, below = mid, v; side < 0 {
				above /= 2
			}
			side = -1
		}
	}
	return hi, true
}

// developed is how far along the eggs are: the heat so far over what is
// required, with the 80 % interval.
func (f *forecast) developed() (low, mid, high float64) {
	p := f.point(0)
	if math.IsInf(p.met, -1) {
		return 0, 0, 0
	}
	var mean, second float64
	for i := range f.eggs.Open {
		n := &f.eggs.Open[i]
		off, v := f.off(&p, n)
		mean += n.Weight * off
		second += n.Weight * (v + n.Egg*n.Egg + off*off)
	}
	sd := math.Sqrt(math.Max(0, second-mean*mean))
	share := func(z float64) float64 { return math.Min(1, math.Exp(mean+z*sd)) }
	return share(-z80), share(0), share(z80)
}
