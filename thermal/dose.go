package thermal

import "math"

// dose is an exposure summed through a kernel: its worth in days at the usual
// temperature, how that changes with the slope, the bend and a shift of all
// temperatures, and what of it rests on assumption.
type dose struct {
	days    float64 // time, gaps included
	worth   worth   // summed over the time
	beyond  float64 // measured days warmer than the limit of what was tested
	colder  float64 // days colder than the coldest that was tested
	outside float64 // kelvin days outside what was tested
	heat    float64 // days times Celsius
	missing float64 // days in gaps
	gapVar  float64 // variance of the worth by the gaps' bounds, days squared
}

func (w worth) plus(v worth, times float64) worth {
	w.days += v.days * times
	w.bySlope += v.bySlope * times
	w.byBend += v.byBend * times
	w.byKelvin += v.byKelvin * times
	return w
}

func (d dose) plus(e dose) dose {
	d.days += e.days
	d.worth = d.worth.plus(e.worth, 1)
	d.beyond += e.beyond
	d.colder += e.colder
	d.outside += e.outside
	d.heat += e.heat
	d.missing += e.missing
	d.gapVar += e.gapVar
	return d
}

func (d dose) times(f float64) dose {
	d.days *= f
	d.worth = worth{}.plus(d.worth, f)
	d.beyond *= f
	d.colder *= f
	d.outside *= f
	d.heat *= f
	d.missing *= f
	d.gapVar *= f * f
	return d
}

func (d *dose) add(k *kernel, celsius, days float64) { d.count(k, celsius, days, k.at(celsius)) }

// count adds days at a temperature of which the worth is known.
func (d *dose) count(k *kernel, celsius, days float64, w worth) {
	d.days += days
	d.worth = d.worth.plus(w, days)
	d.heat += celsius * days
	if k.beyond(celsius) {
		d.beyond += days
	}
	if k.coldest != 0 && celsius < k.coldest {
		d.colder += days
		d.outside += (k.coldest - celsius) * days
	}
	if k.warmest != 0 && celsius > k.warmest {
		d.outside += (celsius - k.warmest) * days
	}
}

// cells are the worth of each cell's temperature, worked out once for all that is
// summed through one kernel.
type cells [cellCount]worth

func (k *kernel) cells() *cells {
	var c cells
	for i := range c {
		c[i] = k.at(celsiusOf(i))
	}
	return &c
}

// dose sums an exposure through a kernel, or its cells where those are known,
// bridging its gaps as [Exposure.Bridged] does. Otherwise
// is the temperature of a gap of which nothing is known, NaN if that is not
// known either: such a gap then counts as the mean of what was measured, and is
// left out where nothing was.
func (x *Exposure) dose(k *kernel, known *cells, otherwise float64) dose {
	var d dose
	for i, ms := range x.cells {
		switch days := float64(ms) / dayMillis; {
		case ms == 0:
		case known == nil:
			d.add(k, celsiusOf(i), days)
		default:
			d.count(k, celsiusOf(i), days, known[i])
		}
	}
	if len(x.gaps) == 0 {
		return d
	}
	if mean := x.Mean(); !math.IsNaN(mean) {
		otherwise = mean
	}
	for _, g := range x.gaps {
		b, ok := bridgeOf(g, otherwise)
		if !ok {
			continue
		}
		beyond, colder := d.beyond, d.colder
		d.add(k, b.before, b.days/2)
		d.add(k, b.after, b.days/2)
		d.beyond, d.colder = beyond, colder // what was not measured was not seen to be beyond
		d.missing += b.days
		// The bounds are taken to hold nine times in ten.
		sd := b.days * (k.at(b.hottest).days - k.at(b.coldest).days) / (2 * 1.645)
		d.gapVar += sd * sd
	}
	return d
}

// swingSteps is how finely a daily course is integrated; the midpoint rule over
// a full period is exact for a smooth rate well below this.
const swingSteps = 24

// swing is one day at a mean temperature with a sinusoidal daily course.
func swing(k *kernel, mean, daily float64) dose {
	var d dose
	if !(daily > 0) {
		d.add(k, mean, 1)
		return d
	}
	for i := range swingSteps {
		d.add(k, mean+daily/2*math.Sin(2*math.Pi*(float64(i)+0.5)/swingSteps), 1.0/swingSteps)
	}
	return d
}
