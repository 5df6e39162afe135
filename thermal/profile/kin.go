package profile

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"math"
	"strconv"
	"strings"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/profile/internal/mixedmodel"
)

// The tables are fitted to the Reptile Development Database, Noble et al. 2018, Scientific
// Data 5:180138, by a program of its own.
//
//go:generate go run ./internal/fit ../../testdata/incubation/durations.csv .

// What the rows of each species say of its level and its slope, in log days and a kelvin.
//
//go:embed species-levels.csv
var levelsTable string

// The course of levels and slopes along the usual temperature that all species share, and
// the standard deviations of order, family, genus and species around it.
//
//go:embed model.csv
var modelTable string

// commonUsual is the usual temperature, in C, at which the common course is anchored.
const commonUsual = 28.0

// Table holds the priors.
type Table struct {
	tree   mixedmodel.Tree
	course mixedmodel.Course
	rows   map[string]int // by species
	tested []tested
}

// Kin is the level and the slope of a species by what was measured of its relatives, with
// their standard deviations: how far both lie from the common course at its usual
// temperature.
type Kin struct {
	Group   string  // what it rests on: the genus, the family or group, the order, "all reptiles"
	Species int     // how many species that is
	Rows    int     // how many rows of the species itself count
	Level   float64 // log days
	LevelSD float64
	Slope   float64 // a kelvin
	SlopeSD float64
	course  mixedmodel.Course
}

// ReadTable reads the tables that are built in.
func ReadTable() (*Table, error) {
	t := &Table{rows: map[string]int{}}
	err := eachRow("model.csv", modelTable, func(row map[string]string, number func(string) float64) {
		if to := t.number(row["name"]); to != nil {
			*to = number("value")
		}
	})
	if err != nil {
		return nil, err
	}
	t.tree.Apart = Geckos
	err = eachRow("species-levels.csv", levelsTable, func(row map[string]string, number func(string) float64) {
		usual := number("usual_c")
		m := mixedmodel.Measured(number("log_days"), number("log_days_sd"), usual-number("at_c"))
		if row["slope_per_k"] != "" {
			m = m.Plus(mixedmodel.MeasuredSlope(number("slope_per_k"), number("slope_sd")))
		}
		t.rows[row["species"]] = int(number("rows"))
		t.tree.Leaves = append(t.tree.Leaves, mixedmodel.Leaf{
			Path:    mixedmodel.Path{row["order"], Group(row["family"]), genus(row["species"]), row["species"]},
			Message: m.Shift(t.course.At(usual - commonUsual)),
		})
	})
	if err != nil {
		return nil, err
	}
	mixedmodel.Sort(t.tree.Leaves)
	t.tested, err = readTested()
	return t, err
}

// number is where a number of the table of the model belongs; nil where it describes the
// rows and not the species.
func (t *Table) number(name string) *float64 {
	d := &t.tree.Deviations
	return map[string]*float64{
		"common_log_days":          &t.course.Level,
		"common_log_days_by_usual": &t.course.LevelByKelvin,
		"common_slope":             &t.course.Slope,
		"common_slope_by_usual":    &t.course.SlopeByKelvin,
		"order_level_sd":           &d.Levels[mixedmodel.Order],
		"family_level_sd":          &d.Levels[mixedmodel.Family],
		"genus_level_sd":           &d.Levels[mixedmodel.Genus],
		"species_level_sd":         &d.Levels[mixedmodel.Species],
		"order_slope_sd":           &d.Slopes[mixedmodel.Order],
		"family_slope_sd":          &d.Slopes[mixedmodel.Family],
		"genus_slope_sd":           &d.Slopes[mixedmodel.Genus],
		"species_slope_sd":         &d.Slopes[mixedmodel.Species],
		"gecko_slope_sd":           &d.ApartSlopes[mixedmodel.Family],
		"gecko_species_slope_sd":   &d.ApartSlopes[mixedmodel.Species],
	}[name]
}

// eachRow reads a table with a header. Number gives a column of the row as a number.
func eachRow(name, table string, each func(row map[string]string, number func(string) float64)) error {
	rows, err := csv.NewReader(strings.NewReader(table)).ReadAll()
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	for i, cells := range rows[1:] {
		row := map[string]string{}
		for j, column := range rows[0] {
			row[column] = cells[j]
		}
		number := func(column string) float64 {
			v, e := strconv.ParseFloat(row[column], 64)
			if e != nil && err == nil {
				err = fmt.Errorf("%s, line %d, %s: %w", name, i+2, column, e)
			}
			return v
		}
		if each(row, number); err != nil {
			return err
		}
	}
	return nil
}

// allReptiles is the group of all species.
const allReptiles = "all reptiles"

// Geckos is the group of all gecko families: each alone has few species that were
// measured.
const Geckos = "Gekkota"

// Group is the name that a family goes by in the tables: its own, or that of its group.
func Group(family string) string {
	switch family {
	case "Gekkonidae", "Diplodactylidae", "Carphodactylidae", "Eublepharidae",
		"Phyllodactylidae", "Pygopodidae", "Sphaerodactylidae":
		return Geckos
	}
	return family
}

// genus is the first word of a species' name.
func genus(species string) string {
	name, _, _ := strings.Cut(species, " ")
	return name
}

// path is where a species stands in the tree. A genus or a family that was measured tells
// what is not known above it.
func (t *Table) path(order, family, species string) mixedmodel.Path {
	p := mixedmodel.Path{order, Group(family), genus(species), species}
	for _, rank := range [...]int{mixedmodel.Genus, mixedmodel.Family} {
		for _, l := range t.tree.Leaves {
			if p[rank] != "" && l.Path[rank] == p[rank] {
				copy(p[:rank], l.Path[:rank])
			}
		}
	}
	if p[mixedmodel.Family] == Geckos && p[mixedmodel.Order] == "" {
		p[mixedmodel.Order] = "Squamata"
	}
	return p
}

// Kin is a species by its relatives alone: what was measured of itself is left out, so
// that a backtest can predict it. Any of order, family and species may be empty or
// unknown.
func (t *Table) Kin(order, family, species string) Kin {
	p := t.path(order, family, species)
	k := t.kin(t.tree.Predict(p))
	k.Group = allReptiles
	for _, l := range t.tree.Leaves {
		if l.Path[mixedmodel.Species] != species {
			k.Species++
		}
	}
	for rank, name := range p[:mixedmodel.Species] {
		n := 0
		for _, l := range t.tree.Leaves {
			if name != "" && l.Path[rank] == name && l.Path[mixedmodel.Species] != species {
				n++
			}
		}
		if n > 0 {
			k.Group, k.Species = name, n
		}
	}
	return k
}

// Species is a species that was itself measured: its relatives and its own rows together.
func (t *Table) Species(species string) (Kin, bool) {
	for _, l := range t.tree.Leaves {
		if l.Path[mixedmodel.Species] == species {
			k := t.kin(t.tree.Predict(l.Path).Given(l.Message))
			k.Group, k.Species, k.Rows = species, 1, t.rows[species]
			return k, true
		}
	}
	return Kin{}, false
}

func (t *Table) kin(n mixedmodel.Normal) Kin {
	return Kin{
		Level: n.Mean.Level, LevelSD: math.Sqrt(n.LevelLevel),
		Slope: n.Mean.Slope, SlopeSD: math.Sqrt(n.SlopeSlope), course: t.course,
	}
}

// Belief is the kin as a belief at a usual temperature in C.
func (k Kin) Belief(usual float64) thermal.Belief {
	at := k.course.At(usual - commonUsual)
	b := thermal.Prior(usual, at.Level+k.Level, k.LevelSD, at.Slope+k.Slope, k.SlopeSD)
	b.References = k.Rows
	return b
}

// Unusual is [Kin.Belief] at a reference temperature in C that is not the species' usual
// one: that of a species that is usually kept where the common course is anchored, along
// its curve.
func (k Kin) Unusual(celsius float64) thermal.Belief {
	at, x := k.course.At(0).Plus(mixedmodel.Pair{Level: k.Level, Slope: k.Slope}), celsius-commonUsual
	b := thermal.Prior(celsius, at.Level-at.Slope*x+thermal.Bend*x*x, math.Hypot(k.LevelSD, k.SlopeSD*x), at.Slope-2*thermal.Bend*x, k.SlopeSD)
	b.References = k.Rows
	return b
}
