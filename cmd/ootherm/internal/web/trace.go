package web

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// day is how far a zone's line goes back; it is drawn in at most 144 cells, ten
// minutes each: under three pixels of a phone.
const (
	day   = 24 * time.Hour
	cells = 144
)

// trace is a zone's last day in cells of equal length. A cell in which nothing
// was believed is NaN throughout.
type trace struct {
	from, to            time.Time
	mid                 []float64 // median over the probes of each one's mean, C
	low, high           []float64 // the least and the most of any probe, C
	lowest, highest     float64   // of the day, C; NaN when there is none
	lowestAt, highestAt time.Time
}

// traceOf reads a zone's last day. It holds a few numbers a cell and probe,
// never the readings.
func traceOf(ctx context.Context, past Past, probes []string, from, to time.Time, n int) (trace, error) {
	t := trace{from: from, to: to, mid: make([]float64, n), low: make([]float64, n), high: make([]float64, n),
		lowest: math.NaN(), highest: math.NaN()}
	for i := range n {
		t.low[i], t.high[i] = math.NaN(), math.NaN()
	}
	means := make([][]float64, n)
	sum, count := make([]float64, n), make([]int, n)
	cell := to.Sub(from) / time.Duration(n)
	for _, probe := range probes {
		clear(sum)
		clear(count)
		for p, err := range past.Readings(ctx, probe, from, to) {
			if err != nil {
				return trace{}, fmt.Errorf("the last day of probe %s: %w", probe, err)
			}
			if p.Cause != "" || math.IsNaN(p.Celsius) || math.IsInf(p.Celsius, 0) || p.At.Before(from) || !p.At.Before(to) {
				continue
			}
			i := min(int(p.At.Sub(from)/cell), n-1)
			sum[i] += p.Celsius
			count[i]++
			t.widen(i, p.Celsius, p.At)
		}
		for i := range n {
			if count[i] > 0 {
				means[i] = append(means[i], sum[i]/float64(count[i]))
			}
		}
	}
	for i, m := range means {
		t.mid[i] = medianOf(m)
	}
	return t, nil
}

// widen takes one reading of a cell into the least and the most.
func (t *trace) widen(cell int, celsius float64, at time.Time) {
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
	kept map[string]trace
}

func (s *zoneViews) trace(ctx context.Context, z snapshot.Zone, at time.Time) (trace, error) {
	to := at.Truncate(time.Minute).Add(time.Minute)
	s.traces.mu.Lock()
	defer s.traces.mu.Unlock()
	if t, ok := s.traces.kept[z.Zone]; ok && t.to.Equal(to) {
		return t, nil
	}
	// A cell holds two polls or more, else a slow poller's line is all gaps.
	n := cells
	if s.Every > 0 {
		n = max(1, min(n, int(day/(2*s.Every))))
	}
	probes := make([]string, len(z.Probes))
	for i, p := range z.Probes {
		probes[i] = p.Probe
	}
	t, err := traceOf(ctx, s.Past, probes, to.Add(-day), to, n)
	if err != nil {
		return trace{}, err
	}
	if s.traces.kept == nil {
		s.traces.kept = map[string]trace{}
	}
	s.traces.kept[z.Zone] = t
	return t, nil
}

// The drawing, in its own units: on a phone one is about a pixel.
const (
	plotWide, plotHigh = 340.0, 132.0
	plotLeft           = 34.0 // room for the figures
	plotTop, plotFoot  = 6.0, 18.0
)

type rect struct{ X, Y, W, H string }
type tick struct{ At, Text string }

// plot is a zone's last day as it is drawn.
type plot struct {
	Wanted  *rect
	Bounds  []string // heights of the band's ends
	Spread  []string // polygons: from the least to the most of any probe
	Runs    []string // lines between gaps
	Left    []tick   // temperatures
	Foot    []tick   // times
	Caption string
	Label   string // all of it for those who hear the page
}

func (s *zoneViews) plot(z snapshot.Zone, t trace) *plot {
	r := s.Reader
	if math.IsNaN(t.lowest) {
		return nil
	}
	low, high := t.lowest, t.highest
	for _, b := range []*float64{z.Wanted.Low, z.Wanted.High} {
		if b != nil {
			low, high = min(low, *b), max(high, *b)
		}
	}
	// At least two kelvin, or a steady room looks like a storm.
	pad := max((2-(high-low))/2, (high-low)*0.06)
	low, high = low-pad, high+pad
	n := len(t.mid)
	x := func(i float64) string { return coordinate(plotLeft + i/float64(n)*(plotWide-plotLeft)) }
	y := func(c float64) string {
		return coordinate(plotTop + (high-c)/(high-low)*(plotHigh-plotTop-plotFoot))
	}

	p := &plot{}
	if z.Wanted.Low != nil || z.Wanted.High != nil {
		top, foot := p.addBand(z.Wanted.Low, z.Wanted.High, low, high, y)
		p.Wanted = &rect{X: x(0), Y: y(top), W: coordinate(plotWide - plotLeft), H: coordinate((top - foot) / (high - low) * (plotHigh - plotTop - plotFoot))}
	}
	gaps := p.addRuns(t, x, y)

	// Figures at the left: the band's ends where there is a band, else the day's.
	marks := []float64{t.highest, t.lowest}
	if z.Wanted.High != nil {
		marks[0] = *z.Wanted.High
	}
	if z.Wanted.Low != nil {
		marks[1] = *z.Wanted.Low
	}
	for i, m := range marks {
		if i > 0 && (marks[0]-m)/(high-low)*(plotHigh-plotTop-plotFoot) < 12 {
			break // no room for both
		}
		p.Left = append(p.Left, tick{At: y(m), Text: r.Degrees(m)})
	}
	// Every six hours of the station's own day, none where its figures would run
	// off the drawing or into the word at its end.
	place := r.Place
	if place == nil {
		place = time.UTC
	}
	d := t.from.In(place)
	for h := 0; h <= 48; h += 6 {
		at := time.Date(d.Year(), d.Month(), d.Day(), h, 0, 0, 0, place)
		if at.Sub(t.from) > 45*time.Minute && t.to.Sub(at) > 3*time.Hour {
			p.Foot = append(p.Foot, tick{At: x(at.Sub(t.from).Hours() / 24 * float64(n)), Text: r.Clock(at)})
		}
	}

	p.Caption = fmt.Sprintf("Last 24 h: lowest %s at %s, highest %s at %s.",
		r.Temperature(t.lowest), r.Clock(t.lowestAt), r.Temperature(t.highest), r.Clock(t.highestAt))
	if gaps > 0 {
		p.Caption += " " + words.Count(gaps, "gap", "gaps") + " left open."
	}
	p.Label = z.Zone + ". " + p.Caption
	if band := r.Band(z.Wanted.Low, z.Wanted.High); band != "" {
		p.Caption += " Shaded: wanted."
		p.Label += " Wanted " + band + "."
	}
	return p
}

func coordinate(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

// addBand adds the heights of a band's ends, and returns where the band is drawn to: an end
// that is absent is the edge of the drawing, from low to high.
func (p *plot) addBand(wantedLow, wantedHigh *float64, low, high float64, y func(celsius float64) string) (top, foot float64) {
	top, foot = high, low
	if wantedHigh != nil {
		top = *wantedHigh
		p.Bounds = append(p.Bounds, y(top))
	}
	if wantedLow != nil {
		foot = *wantedLow
		p.Bounds = append(p.Bounds, y(foot))
	}
	return top, foot
}

// addRuns adds a line and a polygon for each stretch without a gap, and returns how many
// gaps there are.
func (p *plot) addRuns(t trace, x, y func(float64) string) (gaps int) {
	n := len(t.mid)
	for i := 0; i < n; {
		j := i
		for j < n && !math.IsNaN(t.mid[j]) {
			j++
		}
		if j == i {
			gaps++
			for i < n && math.IsNaN(t.mid[i]) {
				i++
			}
			continue
		}
		var run, over, under []string
		for k := i; k < j; k++ {
			at := x(float64(k) + 0.5)
			run = append(run, at+","+y(t.mid[k]))
			over = append(over, at+","+y(t.high[k]))
			under = append(under, at+","+y(t.low[k]))
		}
		if len(run) == 1 { // a lone cell is a short stroke, not nothing
			run = []string{x(float64(i)) + "," + y(t.mid[i]), x(float64(i)+1) + "," + y(t.mid[i])}
		}
		slices.Reverse(under)
		p.Runs = append(p.Runs, strings.Join(run, " "))
		p.Spread = append(p.Spread, strings.Join(append(over, under...), " "))
		i = j
	}
	return gaps
}
