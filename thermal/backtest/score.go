package backtest

import (
	"fmt"
	"math"
	"slices"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/profile"
)

// The protocols, by what is known of a species when a row of it is predicted.
const (
	KnowingFamily = "family" // its order and family alone
	KnowingOne    = "one"    // and one row, of the nearest other mean temperature
	KnowingRest   = "rest"   // and all rows of other mean temperatures
)

// Protocols lists the three protocols, from the least known to the most.
func Protocols() []string { return []string{KnowingFamily, KnowingOne, KnowingRest} }

// Summary is the accuracy of a protocol, as ratios.
type Summary struct {
	N         int     `json:"n"`          // rows predicted
	MedianAPE float64 `json:"median_ape"` // absolute error over the actual duration
	MAPE      float64 `json:"mape"`
	Within80  float64 `json:"within_80"` // share inside the 80 % interval
	Width80   float64 `json:"width_80"`  // mean width of it over the prediction
	LogScore  float64 `json:"log_score"` // mean log density of the actual log days: higher is better
	Early10   float64 `json:"early_10"`  // share in the earliest tenth of what was predicted
	Late10    float64 `json:"late_10"`   // and in the latest; a tenth each where the spread is right
}

// Prediction is the prediction of one row that was left out.
type Prediction struct {
	Species   string  `json:"species"`
	Clade     string  `json:"clade"`
	Study     string  `json:"study"`
	Celsius   float64 `json:"temperature_c"`
	Protocol  string  `json:"protocol"`
	Weight    float64 `json:"weight"` // of the k ties of one row, 1/k each
	Predicted float64 `json:"predicted_days"`
	Low80     float64 `json:"low_80"`
	High80    float64 `json:"high_80"`
	Actual    float64 `json:"actual_days"`
	PIT       float64 `json:"pit"`       // probability integral transform: the share of the prediction that is earlier
	LogScore  float64 `json:"log_score"` // log density of the actual log days
}

// Result is a whole backtest.
type Result struct {
	Protocols map[string]Summary            `json:"protocols"`
	Clades    map[string]map[string]Summary `json:"clades"` // by clade and protocol; none of a clade without rows
	Rows      []Prediction                  `json:"rows"`
}

// Score predicts every row of every species with two or more mean temperatures
// under each protocol, with the model profile.ModelCurve (or "") or
// profile.ModelLine. A species is placed by its family in the table built in,
// its own row there left out; its usual temperature is the middle of its tested
// range. A reference of the row's own study shares its house, one of another
// does not. Rows are means of many eggs: no egg scatters.
func Score(rows []Row, model string) (Result, error) {
	switch model {
	case "", profile.ModelCurve, profile.ModelLine:
	default:
		return Result{}, fmt.Errorf("model %q, want %q or %q", model, profile.ModelCurve, profile.ModelLine)
	}
	table, err := profile.ReadTable()
	if err != nil {
		return Result{}, err
	}
	var names []string
	bySpecies := map[string][]Row{}
	for _, r := range rows {
		if bySpecies[r.Species] == nil {
			names = append(names, r.Species)
		}
		bySpecies[r.Species] = append(bySpecies[r.Species], r)
	}
	out := Result{Protocols: map[string]Summary{}, Clades: map[string]map[string]Summary{}, Rows: []Prediction{}}
	for _, name := range names {
		own := bySpecies[name]
		low, high := own[0].Celsius, own[0].Celsius
		for _, r := range own {
			low, high = math.Min(low, r.Celsius), math.Max(high, r.Celsius)
		}
		if low == high {
			continue
		}
		prior := table.Kin(own[0].Order, own[0].Family, name).Belief((low + high) / 2)
		prior.Straight = model == profile.ModelLine
		for _, r := range own {
			out.Rows = append(out.Rows, r.predictions(prior, own)...)
		}
	}
	out.summarise()
	return out, nil
}

// predictions are those of one row, from its species' prior and others of its
// rows.
func (r Row) predictions(prior thermal.Belief, own []Row) []Prediction {
	out := []Prediction{r.predict(prior, KnowingFamily, 1)}
	nearest := math.Inf(1)
	var others []Row
	for _, o := range own {
		if o.Celsius != r.Celsius {
			others = append(others, o)
			nearest = math.Min(nearest, math.Abs(o.Celsius-r.Celsius))
		}
	}
	var ties []Row
	for _, o := range others {
		if math.Abs(o.Celsius-r.Celsius) < nearest+1e-9 {
			ties = append(ties, o)
		}
	}
	for _, o := range ties {
		out = append(out, r.predict(r.learn(prior, []Row{o}), KnowingOne, 1/float64(len(ties))))
	}
	return append(out, r.predict(r.learn(prior, others), KnowingRest, 1))
}

// learn is the belief of the row's own house after references.
func (r Row) learn(b thermal.Belief, refs []Row) thermal.Belief {
	var studies []string
	for _, o := range refs {
		if o.Study == r.Study {
			b = b.Learn(o.observed(true))
		} else if !slices.Contains(studies, o.Study) {
			studies = append(studies, o.Study)
		}
	}
	for _, study := range studies {
		var points []thermal.Observed
		for _, o := range refs {
			if o.Study == study {
				points = append(points, o.observed(false))
			}
		}
		b = b.Study(points)
	}
	return b
}

func (r Row) observed(own bool) thermal.Observed {
	return thermal.Observed{Days: r.Days, Celsius: r.Celsius, DailyRange: r.DailyRange, Own: own}
}

func (r Row) predict(b thermal.Belief, protocol string, weight float64) Prediction {
	asked := r.observed(true)
	asked.Days = 0
	logDays, sd := b.Predict(asked)
	const z80 = 1.2816
	off := (math.Log(r.Days) - logDays) / sd
	return Prediction{
		Species: r.Species, Clade: Clade(r.Order, r.Family), Study: r.Study, Celsius: r.Celsius, Protocol: protocol, Weight: weight,
		Predicted: math.Exp(logDays), Low80: math.Exp(logDays - z80*sd), High80: math.Exp(logDays + z80*sd),
		Actual: r.Days, PIT: math.Erfc(-off/math.Sqrt2) / 2,
		LogScore: -off*off/2 - math.Log(sd) - math.Log(2*math.Pi)/2,
	}
}
