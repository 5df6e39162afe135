package thermal

import (
	"fmt"
	"math"
	"slices"
)

// The constants of the hatch model, in log days unless said otherwise, fitted to
// 650 mean durations of the Reptile Development Database (Noble et al. 2018,
// Scientific Data 5:180138) with each row left out in turn.
const (
	Bend         = 0.0055 // a square kelvin: how the curve bends away from its tangent
	HouseSD      = 0.075  // between houses: one shared by own hatches, one a published point
	PracticeSD   = 0.12   // of a common-practice point, instead of a published one's
	TreatmentSD  = 0.052  // the model's misfit of one treatment
	EggSD        = 0.045  // scatter of one egg
	DamSD        = EggSD / 2
	studyShared  = 0.2 // of a published point's variance, what the points of its study share
	heavyTail    = 2.2 // standard deviations of a 95 % interval
	filterPasses = 3   // Gauss-Newton passes of the iterated filter
)

// The belief's numbers, in the order of its covariance.
const (
	iLevel = iota // log days at the usual temperature
	iSlope        // a kelvin
	iHouse        // this house's own offset, log days
	iDam          // this dam's own offset, log days: half the scatter of an egg, an assumption
	iStudy        // the house of the study that is being learned, log days; nought between studies
	states
)

// Belief is what is known of a species' development in this house: the log of
// the days at its usual temperature, the slope of the log rate there, the
// offsets of the house and of one dam, and their covariance. It is a value;
// [Belief.Learn] returns another.
type Belief struct {
	Usual    float64 // Celsius: the species' usual incubation temperature, T*
	Upper    float64 // Celsius: warmer than it the rate is held. 0: no limit but the curve's own top
	Bend     float64 // a square kelvin
	Straight bool    // the degree-day line is the model, not the curve

	LogDays, Slope, House, Dam float64
	Covariance                 [states][states]float64

	study float64 // the offset of the study being learned

	References int // published or common-practice points learned
	Own        int // own hatches learned
}

// Prior is a belief before anything was observed: the level (log days at the
// usual temperature) and the slope there with their standard deviations, and the
// usual spread between houses and dams.
func Prior(usual, level, levelSD, slope, slopeSD float64) Belief {
	b := Belief{Usual: usual, Bend: Bend, LogDays: level, Slope: slope}
	b.Covariance[iLevel][iLevel] = levelSD * levelSD
	b.Covariance[iSlope][iSlope] = slopeSD * slopeSD
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
	r := o.variance(study)
	s := b
	prior := b.vector()
	for range filterPasses {
		logMean, bySlope, ok := o.logMean(s.kernel())
		if !ok {
			return b
		}
		h := [states]float64{iLevel: 1, iSlope: -bySlope}
		if o.Own {
			h[iHouse] = 1
			if o.SameDam {
				h[iDam] = 1
			}
		} else if study {
			h[iStudy] = 1
		}
		now := s.vector()
		predicted := now[iLevel] - logMean
		for _, i := range [...]int{iHouse, iDam, iStudy} {
			predicted += h[i] * now[i]
		}
		residual := y - predicted
		for i := range states {
			residual -= h[i] * (prior[i] - now[i])
		}
		ph := times(b.Covariance, h)
		gain := 1 / (dot(h, ph) + r)
		for i := range states {
			now[i] = prior[i] + ph[i]*gain*residual
			for j := range states {
				s.Covariance[i][j] = b.Covariance[i][j] - ph[i]*ph[j]*gain
			}
		}
		s.LogDays, s.Slope, s.House, s.Dam = now[iLevel], math.Max(now[iSlope], slopeLeast), now[iHouse], now[iDam]
		s.study = now[iStudy]
	}
	if o.Own {
		s.Own++
	} else {
		s.References++
	}
	return s
}

// slopeLeast keeps a rate rising with temperature whatever was observed.
const slopeLeast = 0.01

// variance is the observation's own scatter, in log days squared; that of its
// house is left out where it is shared.
func (o Observed) variance(shared bool) float64 {
	v := TreatmentSD * TreatmentSD
	switch {
	case o.Own && o.SameDam:
	case o.Own:
		v += DamSD * DamSD
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

// logMean is the log of the mean of a kernel over what was felt, and its
// derivative by the slope.
func (o Observed) logMean(k kernel) (logMean, bySlope float64, ok bool) {
	var d dose
	switch {
	case o.Felt != nil:
		d = o.Felt.dose(k, math.NaN())
	case math.IsNaN(o.Celsius):
		return 0, 0, false
	default:
		d = swing(k, o.Celsius, o.DailyRange)
	}
	if !(d.days > 0) {
		return 0, 0, false
	}
	mean := d.worth / d.days
	if k.line && mean < lineLeast {
		return math.Log(lineLeast), 0, true
	}
	if !(mean > 0) {
		return 0, 0, false
	}
	return math.Log(mean), d.bySlope / d.worth, true
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
	const z = 1.2816
	return math.Exp(logDays - z*sd), math.Exp(logDays), math.Exp(logDays + z*sd)
}

// Predict is the log of the days that a treatment would take and the standard
// deviation of that: the belief's own and the treatment's. Days is not looked
// at. Both are NaN where the temperatures say nothing.
func (b Belief) Predict(o Observed) (logDays, sd float64) {
	logMean, bySlope, ok := o.logMean(b.kernel())
	if !ok {
		return math.NaN(), math.NaN()
	}
	h := [states]float64{iLevel: 1, iSlope: -bySlope}
	logDays = b.LogDays - logMean
	if o.Own {
		h[iHouse] = 1
		logDays += b.House
		if o.SameDam {
			h[iDam] = 1
			logDays += b.Dam
		}
	}
	o.Days = math.Exp(logDays)
	return logDays, math.Sqrt(dot(h, times(b.Covariance, h)) + o.variance(false))
}

// String is the belief in a line, for a log.
func (b Belief) String() string {
	low, mid, high := b.Interval(b.Usual)
	return fmt.Sprintf("%.0f days (%.0f-%.0f) at %.1f C, slope %.3f", mid, low, high, b.Usual, b.Slope)
}

func (b Belief) kernel() kernel {
	return kernel{usual: b.Usual, upper: b.Upper, slope: math.Max(b.Slope, slopeLeast), bend: b.Bend, line: b.Straight}
}

func (b Belief) vector() [states]float64 {
	return [states]float64{b.LogDays, b.Slope, b.House, b.Dam, b.study}
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
