package alert

import (
	"math"
	"slices"
	"time"
)

// usualDays is how many days say what is usual at an hour (our choice): the median of a week
// outlasts three days of trouble, and follows a new set point after four.
const usualDays = 7

// levels is what a value is at each half hour of the local day.
type levels struct {
	week [daySlots][usualDays]float32 // means of the half hours of the last days
	n    [daySlots]int                // days ever kept
	slot int64                        // the half hour that is being summed
	sum  float64
	bins int
	off  mean // square of how far a half hour was from what is usual
	last struct {
		bin   int64   // the last argument of at
		v     float64 // what at returned
		known bool    // no half hour was kept since
	}
}

// add takes the mean of a local bin.
func (l *levels) add(b int64, v float64) {
	if slot := b / slotBins; slot != l.slot {
		l.keep()
		l.slot, l.sum, l.bins = slot, 0, 0
	}
	l.sum, l.bins = l.sum+v, l.bins+1
}

// keep takes the half hour that was summed.
func (l *levels) keep() {
	if l.bins == 0 {
		return
	}
	v, s := l.sum/float64(l.bins), l.slot%daySlots
	if off := v - l.median(s); !math.IsNaN(off) {
		square := off * off
		if l.off.n >= daySlots {
			square = min(square, outlierResiduals*outlierResiduals*l.spread()*l.spread())
		}
		l.off.add(square, weeklyWeight*slotBins)
	}
	l.week[s][l.n[s]%usualDays] = float32(v)
	l.n[s]++
	l.last.known = false
	if l.off.n == daySlots {
		if v := l.secondDay(); l.off.v > failedDayRatio*failedDayRatio*v {
			l.off.v = v
		}
	}
}

// secondDay is the square of the spread that the second day shows beside the first: by the
// median of the differences (1.4826 times it is the standard deviation of a normal
// distribution; Hampel 1974, J Am Stat Assoc 69:383). A failure on the second day leaves it.
func (l *levels) secondDay() float64 {
	var off []float64
	for s, n := range l.n {
		if n > 1 {
			off = append(off, math.Abs(float64(l.week[s][1]-l.week[s][0])))
		}
	}
	if len(off) == 0 {
		return l.off.v
	}
	sd := madPerSD * median(off)
	return sd * sd
}

// median is what is usual in a half hour of the day; NaN while no day is known.
func (l *levels) median(slot int64) float64 {
	n := min(l.n[slot], usualDays)
	if n == 0 {
		return math.NaN()
	}
	week := l.week[slot]
	slices.Sort(week[:n])
	return (float64(week[(n-1)/2]) + float64(week[n/2])) / 2
}

// at is what is usual at a local bin, between the middles of half hours; NaN while nothing is
// known. It is called at each poll, mostly for the same bin, so it remembers the last result.
func (l *levels) at(b int64) float64 {
	if !l.last.known || l.last.bin != b {
		l.last.bin, l.last.v, l.last.known = b, l.between(b), true
	}
	return l.last.v
}

// between is what is usual at a local bin.
func (l *levels) between(b int64) float64 {
	slot, towards := b/slotBins%daySlots, int64(1)
	past := (float64(b%slotBins)+0.5)/slotBins - 0.5 // the middle, as a share of the half hour
	if past < 0 {
		past, towards = -past, daySlots-1
	}
	here, next := l.median(slot), l.median((slot+towards)%daySlots)
	if math.IsNaN(next) {
		return here
	}
	return here + past*(next-here)
}

// high is the most that is usual at any hour: the highest half hour of a day, of a week the
// third, so that a day or two of trouble do not count; NaN while no day is known.
func (l *levels) high() float64 {
	var highs [usualDays]float64
	days := 0
	for s := range l.week {
		n := min(l.n[s], usualDays)
		for i, v := range l.week[s][:n] {
			if i == days {
				highs[i] = float64(v)
				days++
			}
			highs[i] = max(highs[i], float64(v))
		}
	}
	if days == 0 {
		return math.NaN()
	}
	slices.Sort(highs[:days])
	return highs[max(0, days-usualHighRank)]
}

// spread is how far the value usually is from what is usual, K. While less than a day is
// compared with the one before it, a failure of that day does not count for much.
func (l *levels) spread() float64 {
	sd := max(minResidualKelvin, math.Sqrt(l.off.v))
	if l.off.n < daySlots {
		return min(sd, maxFirstSpreadKelvin)
	}
	return sd
}

// tolerance is how far short of the usual a value is back, K.
func (l *levels) tolerance() float64 { return max(backKelvin, l.spread()) }

// madPerSD is a normal distribution's standard deviation by its median absolute deviation.
const madPerSD = 1.4826

// failedDayRatio is how much wider the spread of the second day is than its median says where
// the zone failed on that day (our choice).
const failedDayRatio = 3.0

// maxFirstSpreadKelvin is how wide the spread may be on the second day, K (our choice: it
// changes no call of the recordings under testdata/rooms).
const maxFirstSpreadKelvin = 0.75

// departure is where the value stands to what is usual.
type departure struct {
	returns          int64 // until this bin it may come back from far on the other side
	fallen           bool  // it was called, and is not back
	moved            int64 // the last bin in which it was called or past the first limit
	awayFrom, awayTo int64 // the bins of the last time on the other side
}

// usualAt is what is usual at a bin; NaN while nothing is known.
func (d *Drift) usualAt(b int64) float64 { return d.levels.at(d.clock.bin(b)) }

// returnsWithin is in how many bins the value may come back from far on the other side of the
// usual; 0 where it is not far. It is far by more than it ever wanders, and within an hour, as
// when a window is open, or by kelvins, as when a heater failed. A warm day is neither.
func (d *Drift) returnsWithin(b int64) int64 {
	width, far := max(2, d.window), max(awayKelvin, unusualScore*d.levels.spread())
	off := d.mean(b, width) - d.usualAt(b)
	before := d.mean(b-perHour, width) - d.usualAt(b-perHour)
	switch {
	case d.farAway(b, farAwayKelvin):
		return returnBins
	case d.levels.off.n >= leastLevels && off > far && off-before > far: // it is known how far it wanders
		return soonReturnBins
	}
	return 0
}

// farAway reports whether the value is so many kelvins past the usual of any hour on the other
// side.
func (d *Drift) farAway(b int64, kelvins float64) bool {
	v := d.mean(b, max(2, d.window))
	return v-d.usualAt(b) > max(awayKelvin, unusualScore*d.levels.spread()) && v > d.levels.high()+kelvins
}

// followAway notes how long a value that jumped to the other side stays: its way back is no drift.
func (x *departure) followAway(b int64, other, jumped bool) {
	switch other = other && b <= x.returns; {
	case other && b == x.awayTo+1:
		x.awayTo = b
	case other && jumped:
		x.awayFrom, x.awayTo = b, b
	}
}

// endFall notes whether a value that was called is back where it usually is at that hour, or
// has stayed inside the limit for so long that it has another level.
func (d *Drift) endFall(b int64) {
	if !d.fallen {
		return
	}
	v := d.mean(b, max(2, d.window))
	if d.Calls() || d.calls[0].limit.Beyond(d.sign*v) {
		d.moved = b
	}
	usual := d.usualAt(b)
	d.fallen = d.Calls() || !math.IsNaN(usual) && b-d.moved < settledBins && v < usual-d.levels.tolerance()
}

// Holding reports whether a drift was called and foretells nothing now, and the value has not
// come back to where it usually is.
func (d *Drift) Holding() bool { return d.fallen && !d.Calls() }

// Usual is what the value usually is at this hour of the day, and how far short of it the value
// is back, in its unit; NaN while no day is known.
func (d *Drift) Usual(now time.Time) (v, tolerance float64) {
	return d.sign * d.usualAt(now.Unix()/binSeconds), d.levels.tolerance()
}
