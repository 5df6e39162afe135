package thermal

import "math"

// dose is an exposure summed through a kernel: its worth in days at the usual
// temperature, the derivatives of that by the slope and by a shift of all
// temperatures, and what of it rests on assumption.
type dose struct {
	days     float64 // time, gaps included
	worth    float64 // days at the usual temperature
	bySlope  float64
	byKelvin float64
	beyond   float64 // days warmer than the limit of what was tested
	missing  float64 // days in gaps
	gapVar   float64 // variance of the worth by the gaps' bounds, days squared
}

func (d dose) plus(e dose) dose {
	d.days += e.days
	d.worth += e.worth
	d.bySlope += e.bySlope
	d.byKelvin += e.byKelvin
	d.beyond += e.beyond
	d.missing += e.missing
	d.gapVar += e.gapVar
	return d
}

func (d dose) times(f float64) dose {
	d.days *= f
	d.worth *= f
	d.bySlope *= f
	d.byKelvin *= f
	d.beyond *= f
	d.missing *= f
	d.gapVar *= f * f
	return d
}

func (d *dose) add(k kernel, celsius, days float64) {
	w, bySlope, byKelvin := k.at(celsius)
	d.days += days
	d.worth += days * w
	d.bySlope += days * bySlope
	d.byKelvin += days * byKelvin
	if k.beyond(celsius) {
		d.beyond += days
	}
}

// dose sums an exposure, bridging its gaps as [Exposure.Bridged] does. Otherwise
// is the temperature of a gap of which nothing is known, NaN if that is not
// known either: such a gap then counts as the mean of what was measured, and is
// left out where nothing was.
func (x *Exposure) dose(k kernel, otherwise float64) dose {
	var d dose
	for i, ms := range x.cells {
		if ms != 0 {
			d.add(k, celsiusOf(i), float64(ms)/dayMillis)
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
		d.add(k, b.before, b.days/2)
		d.add(k, b.after, b.days/2)
		d.missing += b.days
		low, _, _ := k.at(b.coldest)
		high, _, _ := k.at(b.hottest)
		// The bounds are taken to hold nine times in ten.
		sd := b.days * (high - low) / (2 * 1.645)
		d.gapVar += sd * sd
	}
	return d
}

// swingSteps is how finely a daily course is integrated; the midpoint rule over
// a full period is exact for a smooth rate well below this.
const swingSteps = 24

// swing is one day at a mean temperature with a sinusoidal daily course.
func swing(k kernel, mean, daily float64) dose {
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
