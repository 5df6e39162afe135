package zones

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/web/chart"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
)

// Day is how far a zone's line goes back; it is drawn in at most 96 cells, a quarter
// of an hour each: some three pixels of a phone.
const (
	Day   = 24 * time.Hour
	cells = 96
)

// Trace is what a zone measured in a span, in cells of equal length. A cell in which nothing
// was believed is NaN throughout.
type Trace struct {
	from, to            time.Time
	mid                 []float64 // median over the probes of each one's mean, C
	low, high           []float64 // the least and the most of any probe, C
	damp                []float64 // median over the probes of each one's mean humidity, ratio
	lowest, highest     float64   // of the day, C; NaN when there is none
	lowestAt, highestAt time.Time
}

// traceOf reads a zone's last day. It holds a few numbers a cell and probe,
// never the readings.
func traceOf(ctx context.Context, past page.Past, probes []string, from, to time.Time, n int) (Trace, error) {
	t := emptyTrace(from, to, n)
	warmth, moisture := newCells(n), newCells(n)
	cell := to.Sub(from) / time.Duration(n)
	for _, probe := range probes {
		for p, err := range past.Readings(ctx, probe, from, to) {
			if err != nil {
				return Trace{}, fmt.Errorf("the last day of probe %s: %w", probe, err)
			}
			if p.Cause != "" || math.IsNaN(p.Celsius) || math.IsInf(p.Celsius, 0) || p.At.Before(from) || !p.At.Before(to) {
				continue
			}
			i := min(int(p.At.Sub(from)/cell), n-1)
			warmth.add(i, p.Celsius)
			if !math.IsNaN(p.Humidity) && !math.IsInf(p.Humidity, 0) {
				moisture.add(i, p.Humidity)
			}
			t.widen(i, p.Celsius, p.At)
		}
		warmth.close()
		moisture.close()
	}
	for i := range n {
		t.mid[i], t.damp[i] = medianOf(warmth.means[i]), medianOf(moisture.means[i])
	}
	return t, nil
}

// emptyTrace is a trace of n cells without a reading.
func emptyTrace(from, to time.Time, n int) Trace {
	t := Trace{from: from, to: to, mid: make([]float64, n), low: make([]float64, n), high: make([]float64, n), damp: make([]float64, n),
		lowest: math.NaN(), highest: math.NaN()}
	for i := range n {
		t.low[i], t.high[i] = math.NaN(), math.NaN()
	}
	return t
}

// cellMeans collects the mean of each probe in each cell.
type cellMeans struct {
	sum   []float64
	count []int
	means [][]float64
}

func newCells(n int) cellMeans {
	return cellMeans{make([]float64, n), make([]int, n), make([][]float64, n)}
}

func (c *cellMeans) add(cell int, v float64) {
	c.sum[cell] += v
	c.count[cell]++
}

// close ends a probe.
func (c *cellMeans) close() {
	for i, n := range c.count {
		if n > 0 {
			c.means[i] = append(c.means[i], c.sum[i]/float64(n))
		}
	}
	clear(c.sum)
	clear(c.count)
}

// at is the middle of a cell, as a chart has it.
func (t Trace) at(cell int) float64 {
	x := chart.Span(t.from, t.to)
	return x.From + (float64(cell)+0.5)/float64(len(t.mid))*(x.To-x.From)
}

// gaps are how many stretches after the first reading have none.
func (t Trace) gaps() (n int) {
	open := true
	for _, v := range t.mid {
		if math.IsNaN(v) && !open {
			n++
		}
		open = math.IsNaN(v)
	}
	return n
}

// since is the part of a trace from a time on.
func (t Trace) since(from time.Time) Trace {
	cell := t.to.Sub(t.from) / time.Duration(len(t.mid))
	i := min(len(t.mid)-1, max(0, int(from.Sub(t.from)/cell)))
	cut := Trace{from: t.from.Add(time.Duration(i) * cell), to: t.to, mid: t.mid[i:], low: t.low[i:], high: t.high[i:], damp: t.damp[i:], lowest: math.NaN(), highest: math.NaN()}
	for k := range cut.mid {
		if !(cut.low[k] >= cut.lowest) {
			cut.lowest = cut.low[k]
		}
		if !(cut.high[k] <= cut.highest) {
			cut.highest = cut.high[k]
		}
	}
	return cut
}

// widen takes one reading of a cell into the least and the most.
func (t *Trace) widen(cell int, celsius float64, at time.Time) {
	if !(celsius >= t.low[cell]) {
		t.low[cell] = celsius
	}
	if !(celsius <= t.high[cell]) {
		t.high[cell] = celsius
	}
	if !(celsius >= t.lowest) {
		t.lowest, t.lowestAt = celsius, at
	}
	if !(celsius <= t.highest) {
		t.highest, t.highestAt = celsius, at
	}
}

// medianOf is the median of values, which it sorts; NaN of none.
func medianOf(values []float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	slices.Sort(values)
	return (values[(len(values)-1)/2] + values[len(values)/2]) / 2
}

// traces keeps each zone's line for a minute of the station's time, so that
// pages do not scan the history more often.
type traces struct {
	mu   sync.Mutex
	kept map[string]Trace
}

// Trace is the last day of a zone.
func (s *Views) Trace(ctx context.Context, z snapshot.Zone, at time.Time) (Trace, error) {
	return s.traceOf(ctx, Subject{Zone: z}, at)
}

func (s *Views) traceOf(ctx context.Context, x Subject, at time.Time) (Trace, error) {
	to := at.Truncate(time.Minute).Add(time.Minute)
	s.traces.mu.Lock()
	defer s.traces.mu.Unlock()
	if t, ok := s.traces.kept[x.key()]; ok && t.to.Equal(to) {
		return t, nil
	}
	// A cell holds two polls or more, else a slow poller's line is all gaps.
	n := cells
	if s.Every > 0 {
		n = max(1, min(n, int(Day/(2*s.Every))))
	}
	t, err := traceOf(ctx, s.Past, x.probes(), to.Add(-Day), to, n)
	if err != nil {
		return Trace{}, err
	}
	if s.traces.kept == nil {
		s.traces.kept = map[string]Trace{}
	}
	s.traces.kept[x.key()] = t
	return t, nil
}
