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

// Window is the interval in which to look for a hatch, given that there was none
// until now.
type Window struct {
	CheckFrom time.Time // 10 % have hatched
	Likely    time.Time // 50 %; zero: any day now, or not at all
	LateAfter time.Time // 95 %
	Low80     time.Time // the 80 % interval: 10 % (CheckFrom) and
	High80    time.Time // 90 %

	// Late reports that fewer than one clutch in 40 takes so long. All times are then
	// now.
	Late bool

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

// lateBeyond is the share hatched past which a clutch is late.
const lateBeyond = 0.975

// Outlook is a climate seen through one belief from one moment on. All clutches
// of a zone under one belief can share it.
type Outlook struct {
	belief Belief
	kernel kernel
	cells  *cells
	spread spread
	coming course
	now    time.Time
}

// Outlook works the climate out for a belief.
func (c Climate) Outlook(b Belief, now time.Time) *Outlook {
	k := b.kernel()
	return &Outlook{belief: b, kernel: k, cells: k.cells(), spread: b.spread(), coming: c.course(k), now: now}
}

// moment stands for part of a lay interval: its share of the way from the latest
// moment back to the earliest, and its weight.
type moment struct{ share, weight float64 }

// moments are those of a lay interval that is worth so large a share of the way.
// A short one is three points by Gauss, which is exact for a smooth share
// hatched; a long one, in which that share may come to rise and end, is nine.
func moments(worth float64) []moment {
	switch {
	case !(worth > 0):
		return []moment{{0, 1}}
	case worth < longLay:
		const off = 0.3872983346 // half the root of 3/5
		return []moment{{0.5 - off, 5.0 / 18}, {0.5, 8.0 / 18}, {0.5 + off, 5.0 / 18}}
	default:
		m := make([]moment, 9)
		for i := range m {
			m[i] = moment{(float64(i) + 0.5) / 9, 1.0 / 9}
		}
		return m
	}
}

// longLay is the share of the whole way from which an interval is long.
const longLay = 0.1

// spread is a belief's variance of the log requirement, as a polynomial in how
// much the heat leans on the slope and on the bend.
type spread struct{ level, slope, bend, slope2, slopeBend, bend2 float64 }

func (b Belief) spread() spread {
	var s spread
	flat := [...]int{iLevel, iHouse, iDam}
	for _, i := range flat {
		for _, j := range flat {
			s.level += b.Covariance[i][j]
		}
		s.slope += 2 * b.Covariance[i][iSlope]
		s.bend += 2 * b.Covariance[i][iBend]
	}
	s.slope2, s.bend2 = b.Covariance[iSlope][iSlope], b.Covariance[iBend][iBend]
	s.slopeBend = 2 * b.Covariance[iSlope][iBend]
	return s
}

func (s *spread) of(w *worth) float64 {
	slope, bend := -w.bySlope/w.days, -w.byBend/w.days
	return s.level + slope*(s.slope+slope*s.slope2+bend*s.slopeBend) + bend*(s.bend+bend*s.bend2)
}

// Window computes the hatch window of a clutch whose eggs felt this heat.
//
// The share hatched by a time is the probability that the requirement is met by
// then: log days at the usual temperature, spread as the belief and the eggs are.
// The lay interval, gaps, the probe's error and the climate's spread widen it.
// The eggs have not hatched by now: p of the window is F(now) + p (1 - F(now)).
func (o *Outlook) Window(h Heat) Window {
	f := o.forecast(h)
	w := Window{}
	w.DevelopedLow, w.Developed, w.DevelopedHigh = f.developed()
	if h.Arrested {
		w.None = "development is arrested: no window until you mark its end"
		return w
	}
	if math.IsNaN(f.o.coming.mean) {
		w.None = "nothing is known of the temperature to come"
		return w
	}
	if f.hatched(0, heavy) > lateBeyond {
		w.Late = true
		w.CheckFrom, w.Likely, w.LateAfter, w.Low80, w.High80 = o.now, o.now, o.now, o.now, o.now
		w.Because = f.because(0, 0, 0)
		return w
	}
	var days [4]float64
	from := 0.0
	for i, q := range [...]struct {
		p     float64
		tails tails
	}{{0.10, normal}, {0.50, normal}, {0.90, normal}, {0.95, heavy}} {
		hatched := f.hatched(0, q.tails)
		d, ok := f.quantile(hatched+q.p*(1-hatched), from, q.tails)
		if !ok {
			w.None = TooColdReason
			return w
		}
		days[i], from = d, d
	}
	w.CheckFrom, w.Likely, w.High80, w.LateAfter = o.at(days[0]), o.at(days[1]), o.at(days[2]), o.at(days[3])
	w.Low80 = w.CheckFrom
	w.Because = f.because(days[0], days[1], days[3])
	w.Why = f.why(days[3]-days[0], days[1])
	return w
}

func (o *Outlook) at(days float64) time.Time {
	return o.now.Add(time.Duration(days * 24 * float64(time.Hour)))
}

// forecast is one clutch's heat before an outlook.
type forecast struct {
	o             *Outlook
	since, before dose
	moments       []moment
	layDays       float64
	probeVar      float64
	eggVar        float64
	level         float64
}

func (o *Outlook) forecast(h Heat) forecast {
	b := o.belief
	f := forecast{o: o, level: b.LogDays + b.House + b.Dam, probeVar: h.ProbeSD * h.ProbeSD}
	f.since = h.Since.dose(&o.kernel, o.cells, o.coming.mean)
	f.before = h.Before.dose(&o.kernel, o.cells, o.coming.mean)
	f.layDays = h.Latest.Sub(h.Earliest).Hours() / 24
	f.moments = moments(f.before.worth.days / math.Exp(f.level))
	misfit := b.misfit()
	f.eggVar = misfit*misfit + EggSD*EggSD - DamSD*DamSD
	return f
}

// meets is the log requirement that is met after some days more, less the
// middle of what is required, in standard deviations; for the lay moment a
// share of the way from the latest back to the earliest.
func (f *forecast) meets(share float64, coming dose) float64 {
	v := f.variances(share, coming)
	if v.met == math.Inf(-1) {
		return math.Inf(-1)
	}
	return (v.met - f.level) / math.Sqrt(v.belief+v.egg+v.gap+v.probe+v.climate)
}

// variances are the sources of a window's width, log days squared.
type variances struct {
	met, belief, egg, lay, gap, probe, climate float64
}

func (f *forecast) variances(share float64, coming dose) variances {
	past := f.since.plus(f.before.times(share))
	all := past.plus(coming)
	if !(all.worth.days > 0) {
		return variances{met: math.Inf(-1)}
	}
	w := all.worth
	sd := f.o.coming.sd * coming.worth.byKelvin / w.days
	probe := w.byKelvin / w.days
	return variances{
		met:     math.Log(w.days),
		belief:  f.o.spread.of(&w),
		egg:     f.eggVar,
		gap:     past.gapVar / (w.days * w.days),
		probe:   f.probeVar * probe * probe,
		climate: sd * sd,
	}
}

// hatched is the share that has hatched after some days more.
func (f *forecast) hatched(days float64, t tails) float64 {
	coming := f.o.coming.after(days)
	var p float64
	for _, m := range f.moments {
		p += m.weight * t.below(f.meets(m.share, coming))
	}
	return p
}

// quantile is the days until a share has hatched, not before from.
func (f *forecast) quantile(p, from float64, t tails) (float64, bool) {
	const within = 1.0 / (24 * 60) // a minute
	lo, hi := from, from+1
	below := f.hatched(lo, t) - p
	if below >= 0 {
		return lo, true
	}
	above := f.hatched(hi, t) - p
	for above < 0 {
		if lo, below, hi = hi, above, from+2*(hi-from); lo > maxForecastDays {
			return math.NaN(), false
		}
		above = f.hatched(hi, t) - p
	}
	// Regula falsi, the end that stays halved (Illinois); a bracket that will not
	// shrink is cut in two.
	side := 0
	for i := 0; hi-lo > within; i++ {
		mid := hi - above*(hi-lo)/(above-below)
		if i%4 == 3 || !(mid > lo && mid < hi) {
			mid = (lo + hi) / 2
		}
		switch v := f.hatched(mid, t) - p; {
		case v >= 0:
			if hi, above = mid, v; side > 0 {
				below /= 2
			}
			side = 1
			if v < 1e-7 {
				return hi, true
			}
		default:
			if lo, below = mid, v; side < 0 {
				above /= 2
			}
			side = -1
			if v > -1e-7 {
				return lo, true
			}
		}
	}
	return hi, true
}

// developed is how far along the eggs are: the heat so far over what is
// required, with the 80 % interval.
func (f *forecast) developed() (low, mid, high float64) {
	past := f.since.plus(f.before.times(0.5))
	if !(past.worth.days > 0) {
		return 0, 0, 0
	}
	v := f.variances(0.5, dose{})
	lay := f.before.worth.days / past.worth.days
	sd := math.Sqrt(v.belief + v.egg + v.gap + v.probe + lay*lay/12)
	share := func(z float64) float64 { return math.Min(1, math.Exp(v.met-f.level+z*sd)) }
	return share(-z80), share(0), share(z80)
}

// tails are what a spread is taken for beyond its 80 % interval.
type tails bool

const (
	normal tails = false
	heavy  tails = true // stretched so that 95 % lie within 2.2 standard deviations: of the residuals of 650 durations 2.1 to 2.5 do
)

const (
	z80     = 1.2816
	z95     = 1.9600
	stretch = (heavyTail/z95 - 1) / (z95 - z80)
)

// below is the share below v standard deviations.
func (t tails) below(v float64) float64 {
	a := math.Abs(v)
	if t == heavy && a > z80 && !math.IsInf(a, 0) {
		// v = z (1 + stretch (z - z80)), solved for z.
		q := 1 - stretch*z80
		a = (math.Sqrt(q*q+4*stretch*a) - q) / (2 * stretch)
	}
	return 0.5 * math.Erfc(-math.Copysign(a, v)/math.Sqrt2)
}
