package joint

import "math"

// symmetric is a symmetric matrix.
type symmetric [][]float64

func newSymmetric(n int) symmetric {
	all := make([]float64, n*n)
	m := make(symmetric, n)
	for i := range m {
		m[i] = all[i*n : (i+1)*n : (i+1)*n]
	}
	return m
}

func (m symmetric) clone() symmetric {
	c := newSymmetric(len(m))
	for i := range m {
		copy(c[i], m[i])
	}
	return c
}

// add adds a vector's outer product with itself, times a factor.
func (m symmetric) add(v []float64, times float64) {
	if times == 0 {
		return
	}
	for i, x := range v {
		if x == 0 {
			continue
		}
		x *= times
		row := m[i]
		for j, y := range v {
			row[j] += x * y
		}
	}
}

// quadratic is v' m v.
func (m symmetric) quadratic(v []float64) (sum float64) {
	for i, x := range v {
		if x != 0 {
			sum += x * dot(m[i], v)
		}
	}
	return sum
}

// inverse is the inverse of a positive definite matrix and the log of its determinant;
// false where it is not positive definite.
func (m symmetric) inverse() (inverse symmetric, logDet float64, ok bool) {
	n := len(m)
	l := newSymmetric(n)
	for i := range n {
		for j := 0; j <= i; j++ {
			sum := m[i][j] - dot(l[i][:j], l[j][:j])
			if i != j {
				l[i][j] = sum / l[j][j]
				continue
			}
			if !(sum > 0) {
				return nil, 0, false
			}
			l[i][i] = math.Sqrt(sum)
			logDet += 2 * math.Log(l[i][i])
		}
	}
	// The inverse of the root, then its product with itself.
	r := newSymmetric(n)
	for j := range n {
		r[j][j] = 1 / l[j][j]
		for i := j + 1; i < n; i++ {
			var sum float64
			for k := j; k < i; k++ {
				sum -= l[i][k] * r[k][j]
			}
			r[i][j] = sum / l[i][i]
		}
	}
	inverse = newSymmetric(n)
	for i := range n {
		for j := 0; j <= i; j++ {
			var sum float64
			for k := i; k < n; k++ {
				sum += r[k][i] * r[k][j]
			}
			inverse[i][j], inverse[j][i] = sum, sum
		}
	}
	return inverse, logDet, true
}

func (m symmetric) times(v []float64) []float64 {
	out := make([]float64, len(v))
	for i := range m {
		out[i] = dot(m[i], v)
	}
	return out
}

func dot(a, b []float64) (sum float64) {
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}

func log(x float64) float64 { return math.Log(x) }

func pow(x, y float64) float64 { return math.Pow(x, y) }
