package thermal

import (
	"math"
	"slices"
	"time"
)

// Sample is one believed temperature.
type Sample struct {
	At      time.Time
	Celsius float64
}

// Gap is a span without measurements, and the temperatures on either side of it
// (NaN where there was none).
type Gap struct {
	From, To      time.Time
	Before, After float64
	Margin        float64 // K beyond its two sides that it may have been; 0: as its length has it, see [Exposure.Bridged]
}

// Rate is a model of development: the share of development a day at a constant
// temperature.
type Rate interface{ PerDay(celsius float64) float64 }

// The cells of an exposure: 0.1 K wide, centred on the tenths of a degree.
// Colder and warmer than the ends counts in the end cells.
const (
	Coldest = -40.0 // Celsius
	Warmest = 60.0  // Celsius

	cellsPerKelvin = 10
	cellCount      = int((Warmest-Coldest)*cellsPerKelvin) + 1
)

const dayMillis = 24 * 60 * 60 * 1000

// Exposure is time at temperature: how long each 0.1 K cell was felt, and the
// gaps in which nothing is known. It knows no species.
//
// A span between two samples gives half its time to each end, so that the sum
// of any rate over the cells is that rate's trapezoid rule; each half is split
// linearly between the two cells around the sample, so that a rate that is
// straight across a cell is summed exactly and any other to (0.1 K)^2/8 times
// its bend. Time is counted in whole milliseconds of the samples' own clock:
// the sum is exact, so it does not depend on the order or the grouping of the
// additions, and rebuilt equals live to the bit.
//
// The zero value holds no time. An Exposure is a value: its methods do not change
// it, except [Exposure.Add], and copies share nothing.
type Exposure struct {
	cells [cellCount]int64 // milliseconds
	gaps  []Gap            // never appended to in place
}

// Span adds the time between two successive samples. The caller decides whether
// they are close enough to be one span or are the two sides of a [Gap]. A span that
// goes backwards adds nothing; one with an end that is not a number is a gap.
func (x Exposure) Span(a, b Sample) Exposure {
	x.Add(a, b)
	return x
}

// Add is Span in place, for the sample step: it does not allocate unless an end
// is not a number.
func (x *Exposure) Add(a, b Sample) {
	if math.IsNaN(a.Celsius) || math.IsNaN(b.Celsius) {
		*x = x.Gap(Gap{From: a.At, To: b.At, Before: a.Celsius, After: b.Celsius})
		return
	}
	d := b.At.UnixMilli() - a.At.UnixMilli()
	if d <= 0 {
		return
	}
	x.put(a.Celsius, d/2)
	x.put(b.Celsius, d-d/2)
}

// Steady adds time at a constant temperature.
func (x Exposure) Steady(celsius float64, d time.Duration) Exposure {
	if d > 0 && !math.IsNaN(celsius) {
		x.put(celsius, d.Milliseconds())
	}
	return x
}

// Gap adds a span in which nothing was measured. One that goes backwards or
// takes no time adds nothing.
func (x Exposure) Gap(g Gap) Exposure {
	if g.length() <= 0 {
		return x
	}
	g.From, g.To = g.From.Round(0).UTC(), g.To.Round(0).UTC()
	x.gaps = append(slices.Clip(slices.Clone(x.gaps)), g)
	return x
}

// Plus is the two exposures one after the other.
func (x Exposure) Plus(y Exposure) Exposure {
	for i, ms := range y.cells {
		x.cells[i] += ms
	}
	switch {
	case len(y.gaps) == 0:
	case len(x.gaps) == 0:
		x.gaps = slices.Clone(y.gaps)
	default:
		x.gaps = slices.Concat(x.gaps, y.gaps)
	}
	return x
}

// Map is the exposure as a recalibrated probe would have felt it: every
// temperature T becomes gain*T + offset, the gaps' sides too.
func (x Exposure) Map(gain, offset float64) Exposure {
	if gain == 1 && offset == 0 {
		return x
	}
	var y Exposure
	for i, ms := range x.cells {
		if ms != 0 {
			y.put(gain*celsiusOf(i)+offset, ms)
		}
	}
	y.gaps = slices.Clone(x.gaps)
	for i := range y.gaps {
		y.gaps[i].Before = gain*y.gaps[i].Before + offset
		y.gaps[i].After = gain*y.gaps[i].After + offset
		y.gaps[i].Margin = math.Abs(gain) * y.gaps[i].Margin
	}
	return y
}

// Share is the development in the measured time alone, as a share of the whole.
func (x Exposure) Share(r Rate) float64 {
	var sum float64
	for i, ms := range x.cells {
		if ms != 0 {
			sum += r.PerDay(celsiusOf(i)) * float64(ms)
		}
	}
	return sum / dayMillis
}

// Measured is the time that was measured.
func (x Exposure) Measured() time.Duration {
	var ms int64
	for _, c := range x.cells {
		ms += c
	}
	return time.Duration(ms) * time.Millisecond
}

// Missing is the time in gaps.
func (x Exposure) Missing() time.Duration {
	var d time.Duration
	for _, g := range x.gaps {
		d += g.length()
	}
	return d
}

// Observed is the share of the time that was measured, NaN of no time at all.
func (x Exposure) Observed() float64 {
	m, n := x.Measured(), x.Missing()
	if m+n == 0 {
		return math.NaN()
	}
	return float64(m) / float64(m+n)
}

// Mean is the mean measured temperature in Celsius, NaN of no time at all.
func (x Exposure) Mean() float64 {
	var sum, ms float64
	for i, c := range x.cells {
		if c != 0 {
			sum += celsiusOf(i) * float64(c)
			ms += float64(c)
		}
	}
	return sum / ms
}

// Gaps are the spans in which nothing was measured, in the order added.
func (x Exposure) Gaps() []Gap { return slices.Clone(x.gaps) }

// Outside is the measured time below low and above high (Celsius), and the
// degree-hours of it: kelvin hours beyond the limit, summed.
func (x Exposure) Outside(low, high float64) (below, above time.Duration, coldHours, hotHours float64) {
	var cold, hot int64
	for i, ms := range x.cells {
		t := celsiusOf(i)
		switch {
		case ms == 0:
		case t < low:
			cold += ms
			coldHours += (low - t) * float64(ms)
		case t > high:
			hot += ms
			hotHours += (t - high) * float64(ms)
		}
	}
	const hour = 60 * 60 * 1000
	return time.Duration(cold) * time.Millisecond, time.Duration(hot) * time.Millisecond, coldHours / hour, hotHours / hour
}

// Equivalent is the lowest constant temperature that gives the same development in
// the measured time: Celsius, to 0.001 K. It is NaN when nothing was measured or
// nothing developed.
func (x Exposure) Equivalent(r Rate) float64 {
	days := float64(x.Measured().Milliseconds()) / dayMillis
	share := x.Share(r)
	if days <= 0 || !(share > 0) {
		return math.NaN()
	}
	want := share / days * (1 - 1e-12) // a plateau's own sum may round above it
	lo, hi := Coldest, Coldest
	for hi < Warmest && r.PerDay(hi) < want { // a rate may fall again: the first cell that suffices
		lo, hi = hi, hi+1.0/cellsPerKelvin
	}
	for hi-lo > 1e-4 {
		mid := (lo + hi) / 2
		if r.PerDay(mid) < want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return hi
}

// put adds milliseconds at a temperature, split between the cells around it.
func (x *Exposure) put(celsius float64, ms int64) {
	f := (celsius - Coldest) * cellsPerKelvin
	switch {
	case f <= 0:
		x.cells[0] += ms
	case f >= float64(cellCount-1):
		x.cells[cellCount-1] += ms
	default:
		i := int(f)
		// A temperature given in tenths is its cell: (23.3+40)*10 is 633 except
		// for the last bits of a float64.
		next := int64(math.Round((f - float64(i)) * float64(ms)))
		x.cells[i] += ms - next
		x.cells[i+1] += next
	}
}

func celsiusOf(cell int) float64 {
	return float64(cell+int(Coldest*cellsPerKelvin)) / cellsPerKelvin
}

// length is the length of the gap in whole milliseconds of the samples' clock. It
// is at most what a Duration can hold.
func (g Gap) length() time.Duration {
	const most = math.MaxInt64 / int64(time.Millisecond)
	return time.Duration(min(g.To.UnixMilli()-g.From.UnixMilli(), most)) * time.Millisecond
}
