package alert

import (
	"math"
)

// at is the mean of one bin, NaN where nothing is known of it.
func (r *binRing) at(b int64) float64 {
	if b > r.last || b <= r.last-driftRing || b < r.first {
		return math.NaN()
	}
	return r.ring[b%driftRing]
}

// mean is the mean of so many bins up to one.
func (r *binRing) mean(b int64, bins int) float64 {
	sum, n := 0.0, 0
	for i := range int64(bins) {
		if v := r.at(b - i); !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
	}
	return sum / float64(n) // 0/0 is NaN: nothing is known
}

// expireRecords lets the records of hours a day old count, and old ones fade: what the
// zone did by itself without passing the limit is no drift the next time.
func (d *Drift) expireRecords(b int64) {
	hour := b / perHour
	d.hour = max(d.hour, hour-24)
	for d.hour < hour {
		d.hour++
		d.hourly[d.hour%driftHours] = math.Inf(1)
		for k := range d.spans {
			s := &d.spans[k]
			s.record = max(s.record*math.Exp(-1/24.0/recordDays), d.records[d.hour%24][k])
			d.records[d.hour%24][k] = 0
		}
	}
}

// lowestSeen is the lowest value of two weeks, without the last hours; NaN while that
// means nothing.
func (d *Drift) lowestSeen(b int64) float64 {
	if b-d.first < minLowBins && d.days == 0 {
		return math.NaN()
	}
	low := math.Inf(1)
	for _, v := range d.lows[:min(d.days, driftDays)] {
		low = min(low, v)
	}
	for h := b/perHour - recentHours; h > b/perHour-driftHours; h-- {
		low = min(low, d.hourly[h%driftHours])
	}
	return low
}

// learn takes what the newest bin says of days, the day's course and the cycle.
func (d *Drift) learn(b int64) {
	local := d.clock.bin(b)
	if day := local / perDay; day != d.today.day {
		if !math.IsInf(d.today.lowest, 1) {
			d.lows[d.days%driftDays] = d.today.lowest
			d.days++
		}
		d.today = dayLow{day, math.Inf(1)}
	}
	here := &d.hourly[b/perHour%driftHours]
	if v := d.mean(b, max(2, d.window)); v < *here {
		*here = v
	}
	if v := d.mean(b-recentBins, max(2, d.window)); !math.IsNaN(v) && d.failure.teaches(b, recentBins) {
		d.today.lowest = min(d.today.lowest, v)
	}
	d.returns = max(d.returns, b+d.returnsWithin(b))
	d.followAway(b, d.mean(b, 2)-d.usualAt(b) > d.levels.tolerance(), d.at(b)-d.at(b-2) > jumpKelvin)
	d.levels.add(local, d.ring[b%driftRing])
	if change := d.mean(b, 3) - d.mean(b-slotBins, 3); !math.IsNaN(change) && d.failure.teaches(b, slotBins) {
		s := &d.course[local/slotBins%daySlots]
		s.n++
		s.v += max(1/(s.n/slotBins+1), courseWeight) / slotBins * (change - s.v)
	}
	d.cycle(b)
}

// cycle finds the shortest average under which the swing of the last two hours
// all but vanishes: the thermostat's period.
func (d *Drift) cycle(b int64) {
	const long = 24
	if math.IsNaN(d.mean(b-long/2, 4)) || math.IsNaN(d.mean(b-long+4, 4)) {
		return
	}
	middle := d.mean(b, long)
	for i, w := range cycles {
		e := math.Pow(d.mean(b-long/2+int64(w/2), w)-middle, 2)
		if math.IsNaN(e) { // nothing was measured there
			continue
		}
		if m := &d.smooth[i]; m.n > long {
			e = min(e, 9*m.v)
		}
		d.smooth[i].add(e, dailyWeight)
	}
	d.window = 1
	if d.smooth[0].v <= minCycleKelvin*minCycleKelvin {
		return
	}
	best := d.smooth[0].v
	for i := range cycles {
		best = min(best, d.smooth[i].v)
	}
	if best > d.smooth[0].v/cycleReduction {
		return
	}
	for i, w := range cycles {
		if d.smooth[i].v <= cycleTolerance*best+cycleRestKelvin*cycleRestKelvin {
			d.window = w
			return
		}
	}
}
