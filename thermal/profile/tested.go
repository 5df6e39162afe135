package profile

import (
	_ "embed"

	"example.com/ootherm/thermal"
)

// The coldest and the warmest mean temperature at which eggs of each species were
// incubated and hatched, each with the paper.
//
//go:embed tested.csv
var testedTable string

// fewestKelvin is how wide the range of a species or a genus must be to stand for
// itself; a narrower one says what a study chose, not where development ends. Our choice.
const fewestKelvin = 6.0

// tested is one row of the table.
type tested struct {
	order, family, species string
	ends                   thermal.Tested
}

func readTested() ([]tested, error) {
	var all []tested
	err := eachRow("tested.csv", testedTable, func(row map[string]string, number func(string) float64) {
		all = append(all, tested{
			order: row["order"], family: Group(row["family"]), species: row["species"],
			ends: thermal.Tested{
				Coldest: thermal.Limit{Celsius: number("coldest_c"), Source: row["coldest_source"]},
				Warmest: thermal.Limit{Celsius: number("warmest_c"), Source: row["warmest_source"]},
			},
		})
	})
	return all, err
}

// Tested is the range of temperatures tested in a species where that is wide, else in its
// genus where that is wide, else in its family, its order, or all reptiles.
func (t *Table) Tested(order, family, species string) thermal.Tested {
	family = Group(family)
	for _, level := range []struct {
		name   string
		fewest float64
		of     func(tested) bool
	}{
		{species, fewestKelvin, func(x tested) bool { return x.species == species }},
		{genus(species), fewestKelvin, func(x tested) bool { return genus(x.species) == genus(species) }},
		{family, 0, func(x tested) bool { return x.family == family }},
		{order, 0, func(x tested) bool { return x.order == order }},
		{allReptiles, 0, func(tested) bool { return true }},
	} {
		var l thermal.Tested
		for _, x := range t.tested {
			if level.name != "" && level.of(x) {
				l = wider(l, x.ends)
			}
		}
		if l.Coldest.Celsius != 0 && l.Warmest.Celsius-l.Coldest.Celsius >= level.fewest {
			l.Coldest.Group, l.Warmest.Group = level.name, level.name
			return l
		}
	}
	return thermal.Tested{}
}

// wider are the ends that reach furthest of two ranges.
func wider(a, b thermal.Tested) thermal.Tested {
	if a.Coldest.Celsius == 0 || b.Coldest.Celsius < a.Coldest.Celsius {
		a.Coldest = b.Coldest
	}
	if b.Warmest.Celsius > a.Warmest.Celsius {
		a.Warmest = b.Warmest
	}
	return a
}

// testedEnds are the ends of what is known of a profile: its own, else what was tested in
// its kin. References and the usual temperature reach at least as far.
func (p Profile) testedEnds(t *Table) thermal.Tested {
	ends := t.Tested(p.Order, p.Family, p.Species)
	if p.Usual != 0 {
		usual := thermal.Limit{Celsius: p.Usual, Practice: true, Source: p.Sources["usual"]}
		ends = wider(ends, thermal.Tested{Coldest: usual, Warmest: usual})
	}
	for _, r := range p.References {
		mean := thermal.Limit{Celsius: r.Celsius, Practice: r.Practice, Source: r.Source}
		hour := mean
		hour.Celsius += r.DailyRange / 2
		ends = wider(ends, thermal.Tested{Coldest: mean, Warmest: hour})
	}
	return p.ownEnds(ends)
}

// ownEnds are the ends that a profile states, and others where it states none.
func (p Profile) ownEnds(ends thermal.Tested) thermal.Tested {
	for _, own := range []struct {
		of       *thermal.Limit
		celsius  float64
		practice bool
		key      string
	}{
		{&ends.Coldest, p.Tested.Low, false, "tested"},
		{&ends.Warmest, p.Tested.High, false, "tested"},
		{&ends.Coldest, p.Lower, true, "lower"},
		{&ends.Warmest, p.Upper, true, "upper"},
	} {
		if own.celsius != 0 {
			*own.of = thermal.Limit{Celsius: own.celsius, Practice: own.practice, Source: p.Sources[own.key]}
		}
	}
	return ends
}
