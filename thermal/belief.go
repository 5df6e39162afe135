package thermal

import (
	"fmt"
	"math"
	"slices"
)

// The constants of the hatch model, in log days unless said otherwise, fitted to
// 650 mean durations of the Reptile Development Database (Noble et al. 2018,
// Scientific Data 5:180138) with each row left out in turn. On a table of durations
// `ootherm score --durations FILE` measures again how right they are; what was tried
// is in the documentation of package backtest.
const (
	Bend         = 0.0055 // a square kelvin: how the curve bends away from its tangent
	BendSD       = 0.0015 // a square kelvin, between species
	HouseSD      = 0.075  // between houses: one shared by own hatches, one a published point
	PracticeSD   = 0.12   // of a common-practice point, instead of a published one's
	TreatmentSD  = 0.050  // the curve's misfit of one treatment
	LineMisfitSD = 0.062  // the line's
	EggSD        = 0.045  // scatter of one egg
	DamSD        = EggSD / 2
	studyShared  = 0.2 // of a published point's variance, what the points of its study share
	robustness   = 8.0 // degrees of freedom: how far a point is believed that lies far off
	heavyTail    = 2.2 // standard deviations of a 95 % interval
	filterPasses = 3   // Gauss-Newton passes of the iterated filter
)

// The indices of the belief's numbers in its covariance.
const (
	iLevel = iota // log days at the usual temperature
	iSlope        // a kelvin
	iBend         // a square kelvin
	iHouse        // this house's own offset, log days
	iDam          // this dam's own offset, log days: half the scatter of an egg, an assumption
	iStudy        // the house of the study that is being learned, log days; 0 between studies
	states
)

// Belief is what is known of a species' development in this house: the log of
// the days at its usual temperature, the slope and the bend of the log rate
// there, the offsets of the house and of one dam, and their covariance. It is a value;
// [Belief.Learn] returns another.
type Belief struct {
	Usual    float64 // Celsius: the species' usual incubation temperature, T*
	Upper    float64 // Celsius: warmer than it the rate is held. 0: no limit but the curve's own top
	Straight bool    // the degree-day line is the model, not the curve
	Tested   Tested  // between which temperatures durations are known

	LogDays, Slope, Bend, House, Dam float64
	Covariance                       [states][states]float64

	study float64 // the offset of the study being learned

	References int // published or common-practice points learned
	Own        int // own hatches learned
}

// Limit is the coldest or the warmest temperature at which eggs of a kind, or of its kin,
// were incubated and hatched.
type Limit struct {
	Celsius  float64 // 0: not known
	Practice bool    // it is a rule of thumb, not a test
	Group    string  // whose eggs: a species, genus, family or order; empty: the kind's own
	Source   string
}

// Tested are the two ends of what was tested. Beyond them a window is wider and says so.
type Tested struct{ Coldest, Warmest Limit }

// Prior is a belief before anything was observed: the level (log days at the
// usual temperature) and the slope there with their standard deviations, and the
// usual spread between houses and dams.
func Prior(usual, level, levelSD, slope, slopeSD float64) Belief {
	b := Belief{Usual: usual, LogDays: level, Slope: math.Max(slope, slopeLeast), Bend: Bend}
	b.Covariance[iLevel][iLevel] = levelSD * levelSD
	b.Covariance[iSlope][iSlope] = slopeSD * slopeSD
	b.Covariance[iBend][iBend] = BendSD * BendSD
	b.Covariance[iHouse][iHouse] = HouseSD * HouseSD
	b.Covariance[iDam][iDam] = DamSD * DamSD
	return b
}

// Observed is one duration that somebody observed: from laying to hatch, at
// temperatures that are either Felt, or Celsius with a sinusoidal daily course of
// DailyRange from trough to peak.
type Observed struct {
	Days       float64
	Celsius    float64
	DailyRange float64   // K, peak to peak
	Felt       *Exposure // instead of the two above; its gaps are bridged, it is not changed

	Own      bool // hatched in this house: shares its offset
	SameDam  bool // own, of the dam that this belief is for: shares hers too
	Practice bool // a rule of thumb, not a measurement

	SD      float64 // days, of one egg; 0: the usual scatter of an egg
	Eggs    int     // the duration is the mean of so many eggs; 0: too many to scatter
	DaysOff float64 // half the width of the interval in which the clutch was laid, days
}

// Learn is the belief after one more observation, by an iterated Kalman filter of
// three Gauss-Newton passes. An observation that says nothing (no days, no
// temperature) changes nothing.
func (b Belief) Learn(o Observed) Belief { return b.learn(o, false) }

// Study is the belief after the points of one study, which share part of what is
// their own: a hundred of them are not a hundred houses. A point that is there twice counts
// once.
func (b Belief) Study(points []Observed) Belief {
	spread := HouseSD
	for _, o := range points {
		if o.Practice {
			spread = PracticeSD
		}
	}
	b.Covariance[iStudy][iStudy] = spread * spread * studyShared
	b.study = 0
	for i, o := range points {
		if !slices.Contains(points[:i], o) {
			b = b.learn(o, true)
		}
	}
	b.study = 0
	for i := range states {
		b.Covariance[i][iStudy], b.Covariance[iStudy][i] = 0, 0
	}
	return b
}

func (b Belief) learn(o Observed, study bool) Belief {
	if !(o.Days > 0) || math.IsInf(o.Days, 0) {
		return b
	}
	y := math.Log(o.Days)
	scatter := o.variance(b.misfit(), study)
	s, r := b, scatter
	prior := b.vector()
	for range filterPasses {
		w, ok := o.mean(s.kernel())
		if !ok {
			return b
		}
		h := w.gradient(o.Own, o.Own && o.SameDam, study)
		now := s.vector()
		residual := y - now[iLevel] + math.Log(w.days)
		for _, i := range [...]int{iHouse, iDam, iStudy} {
			residual -= h[i] * now[i]
		}
		for i := range states {
			residual -= h[i] * (prior[i] - now[i])
		}
		ph := times(b.Covariance, h)
		spread := dot(h, ph)
		gain := residual / (spread + r)
		for i := range states {
			now[i] = prior[i] + ph[i]*gain
			for j := range states {
				s.Covariance[i][j] = b.Covariance[i][j] - ph[i]*ph[j]/(spread+r)
			}
		}
		s = s.with(now)
		// A point further off than its scatter allows is taken to scatter more,
		// as Student's t would have it.
		off := residual * residual / (spread + scatter)
		r = scatter * math.Max(1, (robustness+off)/(robustness+1))
	}
	if o.Own {
		s.Own++
	} else {
		s.References++
	}
	return s
}

// The least slope and bend keep the rate a rising curve whatever was observed.
const (
	slopeLeast = 0.01
	bendLeast  = 0.001
)

// misfit is the model's, of one treatment.
func (b Belief) misfit() float64 {
	if b.Straight {
		return LineMisfitSD
	}
	return TreatmentSD
}

// variance is the observation's own scatter, in log days squared; that of its
// house is left out where it is shared.
func (o Observed) variance(misfit float64, shared bool) float64 {
	v := misfit * misfit
	switch {
	case o.Own && o.SameDam:
	case o.Own:
		if o.Eggs > 0 { // not the mean of many dams
			v += DamSD * DamSD
		}
	default:
		spread := HouseSD
		if o.Practice {
			spread = PracticeSD
		}
		v += spread * spread
		if shared {
			v -= spread * spread * studyShared
		}
	}
	if o.Eggs > 0 {
		egg := math.Sqrt(EggSD*EggSD - DamSD*DamSD)
		if o.SD > 0 {
			egg = o.SD / o.Days
		}
		v += egg * egg / float64(o.Eggs)
	}
	lay := o.DaysOff / o.Days
	return v + lay*lay/3
}

// mean is the mean of a kernel over what was felt. It is false where that says
// nothing of a duration.
func (o Observed) mean(k kernel) (worth, bool) {
	var d dose
	switch {
	case o.Felt != nil:
		d = o.Felt.dose(&k, nil, math.NaN())
	case math.IsNaN(o.Celsius):
		return worth{}, false
	default:
		d = swing(&k, o.Celsius, o.DailyRange)
	}
	if !(d.days > 0) {
		return worth{}, false
	}
	w := worth{}.plus(d.worth, 1/d.days)
	if k.line && w.days < lineLeast {
		w = worth{days: lineLeast}
	}
	return w, w.days > 0
}

// gradient is how the log of the days changes with the belief's numbers.
func (w worth) gradient(house, dam, study bool) [states]float64 {
	h := [states]float64{iLevel: 1, iSlope: -w.bySlope / w.days, iBend: -w.byBend / w.days}
	if house {
		h[iHouse] = 1
	} else if study {
		h[iStudy] = 1
	}
	if dam {
		h[iDam] = 1
	}
	return h
}

// Rate is the curve that is believed in this house, for this dam.
func (b Belief) Rate() Curve {
	return Curve{Usual: b.Usual, LogDays: b.LogDays + b.House + b.Dam, Slope: b.Slope, Bend: b.Bend, Upper: b.Upper}
}

// Line is the straight line that is believed: the tangent of the curve at
// the usual temperature.
func (b Belief) Line() DegreeDays { return b.Rate().Tangent() }

// Model is the rate that the belief's window is made of: the curve, or the line
// where that was asked for.
func (b Belief) Model() Rate {
	if b.Straight {
		return b.Line()
	}
	return b.Rate()
}

// AsLine is the same belief with the degree-day line as its model.
func (b Belief) AsLine() Belief {
	b.Straight = true
	return b
}

// Interval is the duration in days at a steady temperature: the middle, and the
// 80 % interval of one egg of a clutch.
func (b Belief) Interval(celsius float64) (low, middle, high float64) {
	logDays, sd := b.Predict(Observed{Celsius: celsius, Own: true, SameDam: true, Eggs: 1})
	return math.Exp(logDays - z80*sd), math.Exp(logDays), math.Exp(logDays + z80*sd)
}

// Predict is the log of the days that a treatment would take and the standard
// deviation of that: the belief's own and the treatment's. Days is not looked
// at. Both are NaN where the temperatures say nothing.
func (b Belief) Predict(o Observed) (logDays, sd float64) {
	w, ok := o.mean(b.kernel())
	if !ok {
		return math.NaN(), math.NaN()
	}
	h := w.gradient(o.Own, o.Own && o.SameDam, false)
	logDays = b.LogDays - math.Log(w.days) + h[iHouse]*b.House + h[iDam]*b.Dam
	o.Days = math.Exp(logDays)
	return logDays, math.Sqrt(dot(h, times(b.Covariance, h)) + o.variance(b.misfit(), false))
}

// String is the belief in a line, for a log.
func (b Belief) String() string {
	low, mid, high := b.Interval(b.Usual)
	return fmt.Sprintf("%.0f days (%.0f-%.0f) at %.1f C, slope %.3f", mid, low, high, b.Usual, b.Slope)
}

func (b Belief) kernel() kernel {
	return kernel{
		usual: b.Usual, upper: b.Upper, slope: b.Slope, bend: b.Bend, line: b.Straight,
		coldest: b.Tested.Coldest.Celsius, warmest: b.Tested.Warmest.Celsius,
	}
}

func (b Belief) vector() [states]float64 {
	return [states]float64{
		iLevel: b.LogDays, iSlope: b.Slope, iBend: b.Bend, iHouse: b.House, iDam: b.Dam, iStudy: b.study,
	}
}

// with is the belief with other numbers.
func (b Belief) with(v [states]float64) Belief {
	b.LogDays, b.House, b.Dam, b.study = v[iLevel], v[iHouse], v[iDam], v[iStudy]
	b.Slope, b.Bend = math.Max(v[iSlope], slopeLeast), math.Max(v[iBend], bendLeast)
	return b
}

func times(m [states][states]float64, v [states]float64) (r [states]float64) {
	for i := range states {
		for j := range states {
			r[i] += m[i][j] * v[j]
		}
	}
	return r
}

func dot(a, b [states]float64) (s float64) {
	for i := range states {
		s += a[i] * b[i]
	}
	return s
}
