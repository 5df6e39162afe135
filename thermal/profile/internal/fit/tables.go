package main

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"math"
	"slices"
	"strconv"
)

// tables are the files that package profile embeds, by name, from a model that is fitted.
func tables(d data, m model) map[string][]byte {
	m.integrate(d)
	return map[string][]byte{
		"model.csv":          modelTable(&m),
		"species-levels.csv": levelsTable(d.under(&m)),
		"tested.csv":         testedTable(d),
	}
}

// modelTable are the common course and the standard deviations.
func modelTable(m *model) []byte {
	table := [][]string{{"name", "value"}}
	add := func(name string, v float64) { table = append(table, []string{name, number(v, 5)}) }
	for _, c := range m.commons() {
		add(c.name, *c.of)
	}
	for _, dev := range deviations() {
		add(dev.name, *dev.of(m))
	}
	return write(table)
}

// unknownSlope is the standard deviation from which a slope says nothing, a kelvin.
const unknownSlope = 1.0

// levelsTable are the species, each with what its own rows say: the log days of the
// straight line through them at the temperature where level and slope are independent,
// and the slope.
func levelsTable(d data) []byte {
	table := [][]string{{"order", "family", "species", "rows", "usual_c", "at_c", "log_days", "log_days_sd", "slope_per_k", "slope_sd"}}
	for i, s := range d.species {
		m := d.messages[i]
		colder := m.LevelSlope / m.LevelLevel
		precision := m.SlopeSlope - colder*m.LevelSlope
		slope, slopeSD := "", ""
		if sd := 1 / math.Sqrt(precision); sd < unknownSlope {
			slope = number((m.Weight.Slope-colder*m.Weight.Level)/precision, 4)
			slopeSD = number(sd, 4)
		}
		table = append(table, []string{
			s.rows[0].Order, s.rows[0].Family, s.rows[0].Species, strconv.Itoa(len(s.rows)), number(s.usual, 2), number(s.usual-colder, 2),
			number(m.Weight.Level/m.LevelLevel, 4), number(1/math.Sqrt(m.LevelLevel), 4), slope, slopeSD,
		})
	}
	return write(table)
}

// testedTable are the coldest and the warmest mean temperature of each species.
func testedTable(d data) []byte {
	table := [][]string{{"order", "family", "species", "coldest_c", "coldest_source", "warmest_c", "warmest_source"}}
	for _, s := range d.species {
		byCelsius := func(a, b row) int { return cmp.Compare(a.Celsius, b.Celsius) }
		coldest, warmest := slices.MinFunc(s.rows, byCelsius), slices.MaxFunc(s.rows, byCelsius)
		table = append(table, []string{
			coldest.Order, coldest.Family, coldest.Species,
			number(coldest.Celsius, 1), source(coldest), number(warmest.Celsius, 1), source(warmest),
		})
	}
	return write(table)
}

func source(r row) string {
	return fmt.Sprintf("%s %s, study %s of the Reptile Development Database", r.Author, r.Year, r.Study)
}

// number is a number with so many decimals, without a sign where it is zero.
func number(v float64, decimals int) string {
	s := strconv.FormatFloat(v, 'f', decimals, 64)
	if z, err := strconv.ParseFloat(s, 64); err == nil && z == 0 {
		return strconv.FormatFloat(0, 'f', decimals, 64)
	}
	return s
}

func write(table [][]string) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.WriteAll(table) // a bytes.Buffer takes everything
	return b.Bytes()
}
