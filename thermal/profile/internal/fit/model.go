package main

import (
	"math"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/profile/internal/mixedmodel"
)

// model is everything that is fitted.
type model struct {
	scatter
	mixedmodel.Deviations
	course mixedmodel.Course // along the usual temperature, from commonUsual
}

// start is where the search starts: near the figures of the constants of package thermal.
func start() model {
	return model{
		scatter: scatter{study: 0.075, studySlope: 0.005, treatment: 0.04, row: 0.03, bend: thermal.BendSD},
		Deviations: mixedmodel.Deviations{
			Levels: [...]float64{0.2, 0.2, 0.2, 0.2}, Slopes: [...]float64{0.005, 0.01, 0.01, 0.02},
			Apart: profile.Geckos, ApartSlopes: [mixedmodel.Ranks]float64{mixedmodel.Family: 0.03, mixedmodel.Species: 0.03},
		},
		course: mixedmodel.Course{Level: 4.2, Slope: nearSlope, SlopeByKelvin: nearSlopeByUsual},
	}
}

// deviation is one of a model's standard deviations.
type deviation struct {
	name   string
	of     func(*model) *float64
	within bool    // within a species
	few    bool    // told by few groups
	most   float64 // the largest that is considered
}

// Largest standard deviations that are considered of a rank: of a level, a factor of 1.8;
// of a slope, the whole slope. Our choice.
const (
	mostLevel = 0.6
	mostSlope = 0.08
)

// deviations are all of them. Orders (4), families (21) and geckos
// (5 species, one group) are few.
func deviations() []deviation {
	all := []deviation{
		{name: "study_level_sd", of: func(m *model) *float64 { return &m.study }, within: true},
		{name: "study_slope_sd", of: func(m *model) *float64 { return &m.studySlope }, within: true},
		{name: "treatment_sd", of: func(m *model) *float64 { return &m.treatment }, within: true},
		{name: "row_sd", of: func(m *model) *float64 { return &m.row }, within: true},
		{name: "bend_sd", of: func(m *model) *float64 { return &m.bend }, within: true},
	}
	for rank, name := range [...]string{"order", "family", "genus", "species"} {
		few := rank <= mixedmodel.Family
		all = append(all,
			deviation{name: name + "_level_sd", of: func(m *model) *float64 { return &m.Levels[rank] }, few: few, most: mostLevel},
			deviation{name: name + "_slope_sd", of: func(m *model) *float64 { return &m.Slopes[rank] }, few: few, most: mostSlope})
	}
	return append(all,
		deviation{name: "gecko_slope_sd", of: func(m *model) *float64 { return &m.ApartSlopes[mixedmodel.Family] }, few: true, most: mostSlope},
		deviation{name: "gecko_species_slope_sd", of: func(m *model) *float64 { return &m.ApartSlopes[mixedmodel.Species] }, few: true, most: mostSlope})
}

// commons are the numbers of the common course, each with the step at which its
// likelihood is looked at.
func (m *model) commons() []common {
	return []common{
		{"common_log_days", &m.course.Level, 0.1},
		{"common_log_days_by_usual", &m.course.LevelByKelvin, 0.01},
		{"common_slope", &m.course.Slope, 0.01},
		{"common_slope_by_usual", &m.course.SlopeByKelvin, 0.001},
	}
}

type common struct {
	name string
	of   *float64
	step float64
}

// data are all species, and what the rows of each say under one scatter.
type data struct {
	species  []species
	messages []mixedmodel.Message
}

// under are the data under a model's scatter.
func (d data) under(m *model) data {
	d.messages = make([]mixedmodel.Message, len(d.species))
	for i, s := range d.species {
		d.messages[i] = s.message(m.scatter)
	}
	return d
}

// logLikelihood is the marginal one.
func (m *model) logLikelihood(d data) float64 {
	t := mixedmodel.Tree{Deviations: m.Deviations}
	for i, s := range d.species {
		t.Leaves = append(t.Leaves, mixedmodel.Leaf{Path: s.path, Message: d.messages[i].Shift(m.course.At(s.usual - commonUsual))})
	}
	return t.LogLikelihood()
}

// fitCourse puts the common course at its best under the model's standard deviations and
// returns the log likelihood there. In the course that is a quadratic, so that its values
// around one point tell its top.
func (m *model) fitCourse(d data) float64 {
	at := func(times float64, which ...int) float64 {
		x := *m
		for _, i := range which {
			c := x.commons()[i]
			*c.of += times * c.step
		}
		return x.logLikelihood(d)
	}
	here := at(0)
	all := m.commons()
	plus, gradient, curvature := make([]float64, len(all)), make([]float64, len(all)), make(matrix, len(all))
	for i := range all {
		plus[i] = at(1, i)
		minus := at(-1, i)
		gradient[i] = (plus[i] - minus) / 2
		curvature[i] = make([]float64, len(all))
		curvature[i][i] = 2*here - plus[i] - minus
		for j := range i {
			curvature[i][j] = plus[i] + plus[j] - here - at(1, i, j)
		}
	}
	curvature.cholesky()
	for i, steps := range curvature.backward(curvature.forward(gradient)) {
		*all[i].of += steps * all[i].step
	}
	return m.logLikelihood(d)
}

// The search for the standard deviations. Its steps are factors.
const (
	firstStep    = 0.3  // log
	leastStep    = 1e-3 // log: below it a standard deviation has been found
	leastSD      = 1e-4 // taken as zero
	searchPasses = 60
)

// fit searches the standard deviations of the greatest likelihood, one after another with
// steps that grow where they help and shrink where they do not.
func fit(d data) model {
	m := start()
	all := deviations()
	steps := make([]float64, len(all))
	for i := range steps {
		steps[i] = firstStep
	}
	d = d.under(&m)
	best := m.fitCourse(d)
	for range searchPasses {
		moved := false
		for i, dev := range all {
			if steps[i] < leastStep {
				continue
			}
			moved = true
			if !m.try(&d, dev, steps[i], &best) && !m.try(&d, dev, -steps[i], &best) {
				steps[i] /= 2
			} else {
				steps[i] *= 1.3
			}
		}
		if !moved {
			break
		}
	}
	return m
}

// try multiplies a standard deviation by a step and reports whether that is better.
func (m *model) try(d *data, dev deviation, step float64, best *float64) bool {
	x, y := *m, *d
	sd := dev.of(&x)
	if *sd *= math.Exp(step); *sd < leastSD {
		return false
	}
	if dev.within {
		y = y.under(&x)
	}
	if l := x.fitCourse(y); l > *best {
		*m, *d, *best = x, y, l
		return true
	}
	return false
}

// gridSteps is how finely a standard deviation is integrated.
const gridSteps = 40

// integrate puts the standard deviations that few groups tell at the root of their mean
// square over the likelihood, each with the others where the fit left them, all values up
// to the largest equally likely beforehand.
func (m *model) integrate(d data) {
	fitted := *m
	d = d.under(m)
	for _, dev := range deviations() {
		if !dev.few {
			continue
		}
		var sds, logs [gridSteps]float64
		top := math.Inf(-1)
		for k := range gridSteps {
			x := fitted
			sds[k] = dev.most * (float64(k) + 0.5) / gridSteps
			*dev.of(&x) = sds[k]
			logs[k] = x.fitCourse(d)
			top = math.Max(top, logs[k])
		}
		var sum, squares float64
		for k := range gridSteps {
			weight := math.Exp(logs[k] - top)
			sum += weight
			squares += weight * sds[k] * sds[k]
		}
		*dev.of(m) = math.Sqrt(squares / sum)
	}
	m.fitCourse(d)
}
