package main

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/backtest"
	"example.com/ootherm/thermal/profile"
	"example.com/ootherm/thermal/profile/internal/mixedmodel"
)

// The slope at which rows of a daily course are linearised, a kelvin: near the fitted one.
const (
	nearSlope        = 0.083
	nearSlopeByUsual = -0.003
	commonUsual      = 28.0 // C: where the common course is anchored
)

// species is one species with its rows as a linear model: log days are about
// level + bySlope slope + byBend (bend - Bend) + base.
type species struct {
	path  mixedmodel.Path
	usual float64 // C: the middle of the temperatures tested
	rows  []row
}

// row is a treatment, linearised.
type row struct {
	backtest.Row
	y               float64 // log days less base
	bySlope, byBend float64 // K, K2
}

// gather sorts rows by species.
func gather(rows []backtest.Row) []species {
	rows = slices.Clone(rows)
	slices.SortStableFunc(rows, func(a, b backtest.Row) int {
		x, y := pathOf(a), pathOf(b)
		return slices.Compare(x[:], y[:])
	})
	var all []species
	for len(rows) > 0 {
		n := 1
		for n < len(rows) && pathOf(rows[n]) == pathOf(rows[0]) {
			n++
		}
		all = append(all, speciesOf(rows[:n]))
		rows = rows[n:]
	}
	return all
}

func pathOf(r backtest.Row) mixedmodel.Path {
	genus, _, _ := strings.Cut(r.Species, " ")
	return mixedmodel.Path{r.Order, profile.Group(r.Family), genus, r.Species}
}

func speciesOf(rows []backtest.Row) species {
	byCelsius := func(a, b backtest.Row) int { return cmp.Compare(a.Celsius, b.Celsius) }
	coldest, warmest := slices.MinFunc(rows, byCelsius), slices.MaxFunc(rows, byCelsius)
	s := species{path: pathOf(rows[0]), usual: (coldest.Celsius + warmest.Celsius) / 2}
	for _, r := range rows {
		s.rows = append(s.rows, linearise(r, s.usual))
	}
	return s
}

// linearise works out how a row's log days change with the slope and the bend. At one
// temperature that is exact.
func linearise(r backtest.Row, usual float64) row {
	slope := nearSlope + nearSlopeByUsual*(usual-commonUsual)
	at := func(slope, bend float64) float64 {
		b := thermal.Prior(usual, 0, 0, slope, 0)
		b.Bend = bend
		logDays, _ := b.Predict(thermal.Observed{Celsius: r.Celsius, DailyRange: r.DailyRange})
		return logDays
	}
	const ds, db = 1e-4, 1e-5
	x := row{
		Row:     r,
		bySlope: (at(slope+ds, thermal.Bend) - at(slope-ds, thermal.Bend)) / (2 * ds),
		byBend:  (at(slope, thermal.Bend+db) - at(slope, thermal.Bend-db)) / (2 * db),
	}
	x.y = math.Log(r.Days) - (at(slope, thermal.Bend) - slope*x.bySlope)
	return x
}

// scatter holds the standard deviations within a species, log days; of the slope a
// kelvin, of the bend a square kelvin.
type scatter struct{ study, studySlope, treatment, row, bend float64 }

// covariance is that of two rows of one species.
func (w scatter) covariance(a, b *row) float64 {
	v := w.bend * w.bend * a.byBend * b.byBend
	if a.Study == b.Study {
		v += w.study*w.study + w.studySlope*w.studySlope*a.bySlope*b.bySlope
		if a.Celsius == b.Celsius {
			v += w.treatment * w.treatment
		}
	}
	if a == b {
		v += w.row * w.row
	}
	return v
}

// message is what a species' rows say of its level and its slope.
func (s species) message(w scatter) mixedmodel.Message {
	n := len(s.rows)
	k := make(matrix, n)
	one, slope, y := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range s.rows {
		k[i] = make([]float64, n)
		for j := range i + 1 {
			k[i][j] = w.covariance(&s.rows[i], &s.rows[j])
		}
		one[i], slope[i], y[i] = 1, s.rows[i].bySlope, s.rows[i].y
	}
	logDet := k.cholesky()
	one, slope, y = k.forward(one), k.forward(slope), k.forward(y)
	return mixedmodel.Message{
		LevelLevel: dot(one, one), LevelSlope: dot(one, slope), SlopeSlope: dot(slope, slope),
		Weight:   mixedmodel.Pair{Level: dot(one, y), Slope: dot(slope, y)},
		Constant: -(dot(y, y) + logDet + float64(n)*math.Log(2*math.Pi)) / 2,
	}
}
