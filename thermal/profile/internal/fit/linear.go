package main

import "math"

// matrix is a square matrix by rows.
type matrix [][]float64

// cholesky replaces the lower triangle of a positive definite matrix by its factor and
// returns the log of the determinant.
func (m matrix) cholesky() (logDet float64) {
	for i := range m {
		for j := range i {
			m[i][j] = (m[i][j] - dot(m[i][:j], m[j][:j])) / m[j][j]
		}
		m[i][i] = math.Sqrt(m[i][i] - dot(m[i][:i], m[i][:i]))
		logDet += 2 * math.Log(m[i][i])
	}
	return logDet
}

// forward solves m x = v for a factor m.
func (m matrix) forward(v []float64) []float64 {
	x := make([]float64, len(v))
	for i := range v {
		x[i] = (v[i] - dot(m[i][:i], x[:i])) / m[i][i]
	}
	return x
}

// backward solves m' x = v for a factor m.
func (m matrix) backward(v []float64) []float64 {
	x := make([]float64, len(v))
	for i := len(v) - 1; i >= 0; i-- {
		x[i] = v[i]
		for j := i + 1; j < len(v); j++ {
			x[i] -= m[j][i] * x[j]
		}
		x[i] /= m[i][i]
	}
	return x
}

func dot(a, b []float64) (sum float64) {
	for i := range a {
		sum += a[i] * b[i]
	}
	return sum
}
