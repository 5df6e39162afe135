package profile

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.com/ootherm/thermal"
)

// The figures of each species' level and slope are derived from the Reptile
// Development Database, Noble et al. 2018, Scientific Data 5:180138.
//
//go:embed species-levels.csv
var levels string

// The spread of the hatch model's levels (log days at 28 C) and slopes (a
// kelvin), fitted to the same database.
const (
	familySD       = 0.25 // a family around its order
	speciesSD      = 0.31 // a species around its family
	familySlopeSD  = 0.012
	speciesSlopeSD = 0.019

	pooledCelsius  = 28.0  // of the pooled level and slope
	pooledSlope    = 0.082 // of a species whose usual temperature that is
	slopeByUsual   = 0.005 // less, a kelvin that a species' usual temperature is warmer
	slopeUnusual   = 0.011 // the same where the usual temperature is not known: along one curve
	unknownOrderSD = 0.30  // an order around all; an assumption
)

// species is one row of the table.
type species struct {
	order, family, name  string
	usual                float64
	level, levelVariance float64
	shift, shiftVariance float64 // of the slope, from the pooled one at its usual temperature
}

// Table holds the levels and slopes of the species that were measured.
type Table struct {
	species []species
	tested  []tested
}

// Kin is the level and the slope of a species when only its family is known, with
// their standard deviations.
type Kin struct {
	Group   string  // the family or group, the order, or "all reptiles": what it rests on
	Species int     // how many species that is
	LogDays float64 // at 28 C
	LevelSD float64
	Shift   float64 // of the slope from the pooled one, a kelvin
	SlopeSD float64
}

// ReadTable reads the table that is built in.
func ReadTable() (*Table, error) {
	t := &Table{}
	err := eachRow("species-levels.csv", levels, []int{4, 5, 6, 7, 8}, func(row []string, v []float64) {
		t.species = append(t.species, species{
			order: row[0], family: group(row[1]), name: row[2], usual: v[0],
			level: v[1], levelVariance: v[2] * v[2],
			shift: v[3] - slopeAt(v[0]), shiftVariance: v[4] * v[4],
		})
	})
	if err != nil {
		return nil, err
	}
	if t.tested, err = readTested(); err != nil {
		return nil, err
	}
	return t, nil
}

// eachRow reads a table with a header, of which some columns are numbers.
func eachRow(name, table string, numbers []int, each func([]string, []float64)) error {
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	v := make([]float64, len(numbers))
	for i, row := range rows[1:] {
		for j, column := range numbers {
			if v[j], err = strconv.ParseFloat(row[column], 64); err != nil {
				return fmt.Errorf("%s, line %d: %w", name, i+2, err)
			}
		}
		each(row, v)
	}
	return nil
}

func slopeAt(usual float64) float64 { return pooledSlope - slopeByUsual*(usual-pooledCelsius) }

// allReptiles is the group of all species.
const allReptiles = "all reptiles"

// geckos is the group of all gecko families: each alone has few species that were
// measured.
const geckos = "Gekkota"

// group is the name of a family in the table.
func group(family string) string {
	switch family {
	case "Gekkonidae", "Diplodactylidae", "Carphodactylidae", "Eublepharidae",
		"Phyllodactylidae", "Pygopodidae", "Sphaerodactylidae":
		return geckos
	}
	return family
}

// Family is the kin of a species of this family and order, either of which may
// be empty or unknown: a family is shrunk to its order, an unknown family stands
// at its order, and where that is unknown too, at all reptiles. The species
// named leaveOut is left out, so that a backtest can predict it.
func (t *Table) Family(order, family, leaveOut string) Kin {
	family = group(family)
	if order == "" {
		for _, s := range t.species {
			if s.family == family {
				order = s.order
			}
		}
		if family == geckos {
			order = "Squamata"
		}
	}
	families := map[string]*figures{}
	var names []string // in the table's order, so that sums do not wander
	add := func(s species) {
		if families[s.family] == nil {
			families[s.family] = &figures{}
			names = append(names, s.family)
		}
		families[s.family].add(s)
	}
	for _, s := range t.species {
		if s.order == order && s.name != leaveOut {
			add(s)
		}
	}
	k := Kin{Group: order}
	familyVariance := familySD * familySD
	if len(names) == 0 {
		k.Group = allReptiles
		familyVariance += unknownOrderSD * unknownOrderSD
		for _, s := range t.species {
			if s.name != leaveOut {
				add(s)
			}
		}
	}
	// The order's level is the mean of its families', each as uncertain as it is;
	// slopes differ less between families, and its slope is that of its species.
	var all figures
	for _, name := range names {
		f := families[name]
		all.level.add(f.level.mean(), f.level.variance()+familyVariance)
		all.slope.sum, all.slope.weight = all.slope.sum+f.slope.sum, all.slope.weight+f.slope.weight
		k.Species += f.n
	}
	var level, slope pooled
	level.add(all.level.mean(), familyVariance)
	slope.add(all.slope.mean(), familySlopeSD*familySlopeSD)
	if own := families[family]; own != nil && k.Group == order {
		level.add(own.level.mean(), own.level.variance())
		slope.add(own.slope.mean(), own.slope.variance())
		k.Group, k.Species = family, own.n
	}
	k.LogDays = level.mean()
	k.LevelSD = math.Sqrt(level.variance() + speciesSD*speciesSD)
	k.Shift = slope.mean()
	k.SlopeSD = math.Sqrt(slope.variance() + speciesSlopeSD*speciesSlopeSD)
	return k
}

// Species is the level and the slope of a species that was itself measured.
func (t *Table) Species(name string) (Kin, bool) {
	for _, s := range t.species {
		if s.name == name {
			return Kin{
				Group: name, Species: 1, LogDays: s.level, LevelSD: math.Sqrt(s.levelVariance),
				Shift: s.shift, SlopeSD: math.Sqrt(s.shiftVariance),
			}, true
		}
	}
	return Kin{}, false
}

// Belief is the kin as a belief at a usual temperature in Celsius; the level is
// moved there from 28 C along the pooled curve.
func (k Kin) Belief(usual float64) thermal.Belief {
	return k.belief(usual, slopeAt(usual)+k.Shift)
}

// Unusual is [Kin.Belief] at a reference temperature that is not the species' usual
// one.
func (k Kin) Unusual(celsius float64) thermal.Belief {
	return k.belief(celsius, pooledSlope-slopeUnusual*(celsius-pooledCelsius)+k.Shift)
}

func (k Kin) belief(usual, slope float64) thermal.Belief {
	x := pooledCelsius - usual
	return thermal.Prior(usual, k.LogDays+slope*x-thermal.Bend*x*x, k.LevelSD, slope, k.SlopeSD)
}

// figures are a family's pooled level and slope.
type figures struct {
	level, slope pooled
	n            int
}

func (f *figures) add(s species) {
	f.level.add(s.level, s.levelVariance+speciesSD*speciesSD)
	f.slope.add(s.shift, s.shiftVariance+speciesSlopeSD*speciesSlopeSD)
	f.n++
}

// pooled is a mean weighted by precision.
type pooled struct{ weight, sum float64 }

func (p *pooled) add(v, variance float64) {
	p.weight += 1 / variance
	p.sum += v / variance
}

func (p pooled) mean() float64     { return p.sum / p.weight }
func (p pooled) variance() float64 { return 1 / p.weight }
