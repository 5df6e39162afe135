package pipeline_test

import (
	"errors"
	"io"
	"testing"
	"testing/synctest"

	"example.com/ootherm/cmd/ootherm/internal/replay/pipeline"
	"example.com/ootherm/sensor/recording"
)

// source gives numbered rows, each tenth of which is bad, and then an error.
type source struct {
	n, rows int
	end     error
}

func (s *source) Next() (recording.Row, error) {
	switch s.n++; {
	case s.n > s.rows:
		return recording.Row{}, s.end
	case s.n%10 == 0:
		return recording.Row{Line: s.n}, &recording.RowError{Line: s.n}
	}
	return recording.Row{Line: s.n}, nil
}

// Rows come in their order, bad ones in their places, and the end is told as often as it is
// asked for.
func TestRowsAreThoseOfTheSource(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, end := range []error{io.EOF, errors.New("the card is gone")} {
			for _, n := range []int{0, 1, 4095, 4096, 4097, 20000} {
				r := pipeline.NewRows((&source{rows: n, end: end}).Next)
				for i := 1; i <= n; i++ {
					row, err := r.Next()
					if bad := i%10 == 0; row.Line != i || (err != nil) != bad {
						t.Fatalf("row %d of %d: %d, %v", i, n, row.Line, err)
					}
				}
				for range 3 {
					if _, err := r.Next(); err != end {
						t.Errorf("after %d rows: %v, want %v", n, err, end)
					}
				}
				r.Close()
			}
		}
	})
}

// After Close nothing is read, wherever the reading stood.
func TestCloseEndsTheReading(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for _, taken := range []int{0, 1, 5000} {
			s := &source{rows: 1 << 20, end: io.EOF}
			r := pipeline.NewRows(s.Next)
			for range taken {
				if _, err := r.Next(); errors.Is(err, io.EOF) {
					t.Fatal(err)
				}
			}
			r.Close()
			read := s.n
			synctest.Wait()
			if s.n != read || read < taken || read == s.rows {
				t.Errorf("%d taken, %d read, then %d", taken, read, s.n)
			}
		}
	})
}
