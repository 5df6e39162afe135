package main

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"sync"
	"testing"

	"example.com/ootherm/thermal/backtest"
)

func readTable(t *testing.T) []backtest.Row {
	t.Helper()
	rows, err := readRows("../../../../testdata/incubation/durations.csv")
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// The embedded tables are what the program writes: to the byte on the machine that wrote
// them; on another, which may round otherwise, to one part in a hundred.
func TestEmbeddedTables(t *testing.T) {
	d := data{species: gather(readTable(t))}
	for name, got := range tables(d, fitted(d)) {
		want, err := os.ReadFile(filepath.Join("../..", name))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) && (runtime.GOARCH == "amd64" || !alike(t, got, want)) {
			t.Errorf("%s is not what the program writes; run go generate in thermal/profile", name)
		}
	}
}

var (
	fitOnce sync.Once
	theFit  model
)

// fitted is the fit to the published table, made once.
func fitted(d data) model {
	fitOnce.Do(func() { theFit = fit(d) })
	return theFit
}

// alike reports whether two tables differ in their numbers alone, and in these by little.
func alike(t *testing.T, a, b []byte) bool {
	t.Helper()
	x, errX := csv.NewReader(bytes.NewReader(a)).ReadAll()
	y, errY := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if errX != nil || errY != nil || len(x) != len(y) {
		return false
	}
	for i := range x {
		for j := range x[i] {
			p, errP := strconv.ParseFloat(x[i][j], 64)
			q, errQ := strconv.ParseFloat(y[i][j], 64)
			if x[i][j] != y[i][j] && (errP != nil || errQ != nil || math.Abs(p-q) > 0.01*math.Abs(q)+2e-4) {
				return false
			}
		}
	}
	return true
}

// The likelihood summed up the tree is that of the whole table as one Gaussian.
func TestLogLikelihood(t *testing.T) {
	d := data{species: gather(readTable(t)[:90])}
	m := start()
	m.course.LevelByKelvin = -0.04
	var all []*row
	var of []int
	for i := range d.species {
		for j := range d.species[i].rows {
			all, of = append(all, &d.species[i].rows[j]), append(of, i)
		}
	}
	k, y := make(matrix, len(all)), make([]float64, len(all))
	for i, a := range all {
		course := m.course.At(d.species[of[i]].usual - commonUsual)
		y[i] = a.y - course.Level - a.bySlope*course.Slope
		k[i] = make([]float64, len(all))
		for j, b := range all[:i+1] {
			k[i][j] = m.shared(d.species[of[i]], d.species[of[j]], a.bySlope*b.bySlope)
			if of[i] == of[j] {
				k[i][j] += m.covariance(a, b)
			}
		}
	}
	logDet := k.cholesky()
	y = k.forward(y)
	want := -(dot(y, y) + logDet + float64(len(y))*math.Log(2*math.Pi)) / 2
	if got := m.logLikelihood(d.under(&m)); math.Abs(got-want) > 1e-6 || len(d.species) < 6 {
		t.Errorf("log likelihood %.6f of %d species, want %.6f", got, len(d.species), want)
	}
}

// shared is the covariance of rows of two species by the ranks that they share.
func (m *model) shared(a, b species, slopes float64) (sum float64) {
	for rank := range a.path {
		if a.path[rank] != b.path[rank] {
			return sum
		}
		level, slope := m.Levels[rank], m.Slopes[rank]
		if own := m.ApartSlopes[rank]; own != 0 && a.path[1] == m.Apart {
			slope = own
		}
		sum += level*level + slope*slope*slopes
	}
	return sum
}

// The fit is at a top: no standard deviation that is a tenth larger or smaller is likelier.
func TestFitIsATop(t *testing.T) {
	d := data{species: gather(readTable(t))}
	m := fitted(d)
	best := m.logLikelihood(d.under(&m))
	for _, dev := range deviations() {
		for _, by := range []float64{0.9, 1 / 0.9} {
			x := m
			*dev.of(&x) *= by
			if l := x.fitCourse(d.under(&x)); l > best+1e-3 && *dev.of(&x) > leastSD {
				t.Errorf("%s times %.2f: log likelihood %.4f, the fit's %.4f", dev.name, by, l, best)
			}
		}
	}
}
