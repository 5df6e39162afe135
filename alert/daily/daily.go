// Package daily watches a value that changes steadily over days, as the humidity of a room that
// dries from week to week. A day counts by the median of its hours, so that a shower, an airing
// or a probe that was taken out for some hours does not count.
package daily

import (
	"math"
	"slices"
	"time"
)

// How a steady change is known. All are our choice.
const (
	keptDays   = 10  // the most days that are looked at
	leastDays  = 6   // in a row: with fewer, a slope is hardly told from none
	leastHours = 12  // of a day, with a value
	slopeSDs   = 2.0 // standard deviations by which the slope must differ from none
	lastDays   = 2   // over so many it still goes on
	lastRatio  = 0.5 // as fast as this share of the whole, at least
	// Horizon is how far ahead a limit is foretold to be passed.
	Horizon = 4 * 24 * time.Hour
)

// Trend is the medians of the last days of a value. Its size is fixed; make it with [New].
type Trend struct {
	place *time.Location
	day   int64 // that is being measured, by the local date
	hour  int64 // that is being summed
	sum   float64
	n     int
	hours [25]float64 // means of the day's hours; a day of a clock change has 25
	known int
	ring  [keptDays]oneDay
	days  int // ever kept
}

// oneDay is a day that is over.
type oneDay struct {
	day    int64
	median float64
}

// New makes a trend of local days.
func New(place *time.Location) *Trend { return &Trend{place: place, day: math.MinInt64} }

// Observe takes a value, in the order of time; NaN is none.
func (t *Trend) Observe(at time.Time, v float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	local := at.In(t.place)
	_, offset := local.Zone()
	day, hour := (at.Unix()+int64(offset))/(24*3600), at.Unix()/3600
	if t.day != math.MinInt64 && (hour != t.hour || day != t.day) {
		t.closeHour()
	}
	if day != t.day {
		t.closeDay()
		t.day = day
	}
	t.hour, t.sum, t.n = hour, t.sum+v, t.n+1
}

func (t *Trend) closeHour() {
	if t.n > 0 && t.known < len(t.hours) {
		t.hours[t.known] = t.sum / float64(t.n)
		t.known++
	}
	t.sum, t.n = 0, 0
}

func (t *Trend) closeDay() {
	if t.known >= leastHours {
		t.ring[t.days%keptDays] = oneDay{t.day, median(slices.Sorted(slices.Values(t.hours[:t.known])))}
		t.days++
	}
	t.known = 0
}

// Coming is when a limit will be passed, as the days go.
type Coming struct {
	Limit  float64
	Now    float64 // median of the last day
	PerDay float64
	Days   int // that it has gone so
	At     time.Time
}

// Passes foretells when a limit is passed, a high one or a low one; false where the last days do
// not lead there steadily, where the last day is not the furthest yet, where the limit is passed
// already or not within the horizon, and where yesterday is not known.
func (t *Trend) Passes(now time.Time, limit float64, high bool) (Coming, bool) {
	sign := 1.0
	if high {
		sign = -1
	}
	v := t.inARow(now)
	if len(v) < leastDays {
		return Coming{}, false
	}
	for i := range v {
		v[i] *= sign
	}
	last := v[len(v)-1]
	if last > slices.Min(v) {
		return Coming{}, false
	}
	// The shortest run of days up to the last that is steady: what went before is no part of it.
	for n := leastDays; n <= len(v); n++ {
		perDay, ok := falls(v[len(v)-n:])
		if lately := (last - v[len(v)-1-lastDays]) / lastDays; !ok || lately > lastRatio*perDay { // a step is over
			continue
		}
		// The median of a day is that of its middle.
		days := (last - sign*limit) / -perDay
		middle := t.startOf(t.ring[(t.days-1)%keptDays].day).Add(12 * time.Hour)
		at := middle.Add(time.Duration(days * 24 * float64(time.Hour)))
		if days <= 0 || at.Before(now) || at.Sub(now) > Horizon {
			return Coming{}, false
		}
		return Coming{Limit: limit, Now: sign * last, PerDay: sign * perDay, Days: n, At: at}, true
	}
	return Coming{}, false
}

// inARow are the medians of the days without a gap up to yesterday; none where yesterday is not
// known.
func (t *Trend) inARow(now time.Time) (v []float64) {
	_, offset := now.In(t.place).Zone()
	day := (now.Unix() + int64(offset)) / (24 * 3600)
	for i := t.days - 1; i >= max(0, t.days-keptDays); i-- {
		day--
		if x := t.ring[i%keptDays]; x.day != day {
			break
		} else {
			v = append(v, x.median)
		}
	}
	slices.Reverse(v)
	return v
}

// startOf is the beginning of a local day.
func (t *Trend) startOf(day int64) time.Time {
	d := time.Unix(day*24*3600, 0).UTC()
	return time.Date(d.Year(), d.Month(), d.Day(), 0, 0, 0, 0, t.place)
}

// falls is the median slope between all pairs of days (Theil 1950; Sen 1968, J Am Stat Assoc
// 63:1379), and whether it differs from none by its interval there.
func falls(v []float64) (perDay float64, ok bool) {
	var slopes []float64
	for i := range v {
		for j := i + 1; j < len(v); j++ {
			slopes = append(slopes, (v[j]-v[i])/float64(j-i))
		}
	}
	slices.Sort(slopes)
	n := float64(len(v))
	off := int(math.Ceil(slopeSDs * math.Sqrt(n*(n-1)*(2*n+5)/18) / 2))
	shallow := min(len(slopes)-1, len(slopes)/2+off)
	return median(slopes), slopes[shallow] < 0
}

// median is the middle of sorted values.
func median(v []float64) float64 { return (v[(len(v)-1)/2] + v[len(v)/2]) / 2 }
