package track

import (
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/thermal"
)

// day is what was measured of one day, or of one hour.
type day struct {
	seconds     float64
	sum         float64 // kelvin seconds above 0 C
	least, most float64 // C
}

func (d *day) add(e day) {
	if e.seconds == 0 {
		return
	}
	if d.seconds == 0 {
		*d = e
		return
	}
	d.seconds, d.sum = d.seconds+e.seconds, d.sum+e.sum
	d.least, d.most = min(d.least, e.least), max(d.most, e.most)
}

// minMeasuredOfDay is how much of a day must have been measured for it to count: a
// morning alone is colder than its day (our choice).
const minMeasuredOfDay = 12 * time.Hour

// ClimateYears is how far back stored readings make a climate: more seasons say little
// more of the course of one (our choice).
const ClimateYears = 6

// minClimateGap is the least span without a sample that says little of how a source runs
// (our choice).
const minClimateGap = 2 * time.Hour

// recentHours is for how long hours are kept beside days: the last days are counted back
// from now. A week is enough for the climate to come; the rest joins it to the days before.
const recentHours = 9 * 24

// DailyClimate is what a source did day by day, in this season and in earlier ones. Its
// last days begin at the hour of now, so that the same readings make the same days in every
// time zone, and that no day is measured by half. The days before are those of UTC.
type DailyClimate struct {
	gap   time.Duration  // a longer span was not measured
	days  map[int64]*day // by the number of the day of UTC
	hours map[int64]*day // the last recentHours, by the number of the hour
	last  thermal.Sample

	hour            int64 // the number of the hour that Observe adds to
	today, thisHour *day  // the sums of that hour and of its day; nil before the first
}

// NewDailyClimate begins without a day. A span longer than gap, and than two hours, was not
// measured.
func NewDailyClimate(gap time.Duration) *DailyClimate {
	return &DailyClimate{gap: max(minClimateGap, gap), days: map[int64]*day{}, hours: map[int64]*day{}}
}

// Last is the last sample; its time is zero before the first.
func (a *DailyClimate) Last() thermal.Sample { return a.last }

// Resume continues after a sample that is counted already.
func (a *DailyClimate) Resume(after thermal.Sample) { a.last = after }

// Shift moves the last sample when the clock is set.
func (a *DailyClimate) Shift(by time.Duration) {
	if !a.last.At.IsZero() {
		a.last.At = a.last.At.Add(by)
	}
}

// AddSpan adds a span of stored readings in C to the day of one of its times. The last days
// need the readings themselves: see AddHours.
func (a *DailyClimate) AddSpan(at time.Time, measured time.Duration, mean, least, most float64) {
	seconds := measured.Seconds()
	add(a.days, number(at, 24*time.Hour), day{seconds: seconds, sum: mean * seconds, least: least, most: most})
}

// AddHours adds the last hours of a climate that observed the readings since Recent.
func (a *DailyClimate) AddHours(of *DailyClimate) {
	for number, d := range of.hours {
		add(a.hours, number, *d)
	}
}

// Recent is from when on the hours of a climate count at a time.
func Recent(now time.Time) time.Time { return now.Add(-recentHours * time.Hour) }

// AddMedian adds the days and hours of several sources: of each, the median of theirs.
func (a *DailyClimate) AddMedian(of []*DailyClimate) {
	days, hours := map[int64][]day{}, map[int64][]day{}
	for _, x := range of {
		for number, d := range x.days {
			days[number] = append(days[number], *d)
		}
		for number, d := range x.hours {
			hours[number] = append(hours[number], *d)
		}
	}
	for number, of := range days {
		add(a.days, number, middleDay(of))
	}
	for number, of := range hours {
		add(a.hours, number, middleDay(of))
	}
}

// number is the number of the day or of the hour in which a time lies.
func number(at time.Time, long time.Duration) int64 {
	seconds, of := at.Unix(), int64(long/time.Second)
	if seconds < 0 {
		seconds -= of - 1 // the division below goes towards zero
	}
	return seconds / of
}

// Observe takes the next sample of the source; one before the last is left out.
func (a *DailyClimate) Observe(s thermal.Sample) {
	if math.IsNaN(s.Celsius) || s.At.Before(a.last.At) {
		return
	}
	last := a.last
	a.last = s
	if d := s.At.Sub(last.At); last.At.IsZero() || d <= 0 || d > a.gap {
		return
	}
	for last.At.Before(s.At) { // hour by hour
		hour := number(last.At, time.Hour)
		to := between(last, s, time.Unix((hour+1)*3600, 0))
		seconds := to.At.Sub(last.At).Seconds()
		d := day{
			seconds: seconds, sum: (last.Celsius + to.Celsius) / 2 * seconds,
			least: min(last.Celsius, to.Celsius), most: max(last.Celsius, to.Celsius),
		}
		if a.thisHour == nil || hour != a.hour {
			a.begin(hour, number(last.At, 24*time.Hour))
		}
		a.today.add(d)
		a.thisHour.add(d)
		last = to
	}
}

// begin sets the hour, and its day, that Observe adds to.
func (a *DailyClimate) begin(hour, dayNumber int64) {
	if a.hours[hour] == nil {
		maps.DeleteFunc(a.hours, func(n int64, _ *day) bool { return n < hour-recentHours })
	}
	a.hour, a.today, a.thisHour = hour, sumOf(a.days, dayNumber), sumOf(a.hours, hour)
}

// sumOf is the sum of a day or of an hour, made where there is none.
func sumOf(all map[int64]*day, number int64) *day {
	d := all[number]
	if d == nil {
		d = &day{}
		all[number] = d
	}
	return d
}

func add(all map[int64]*day, number int64, d day) { sumOf(all, number).add(d) }

// History is the days of which enough was measured, as seen at a time: as many times 24
// hours back from the last full hour as hours are kept for, and the days of UTC before them.
func (a *DailyClimate) History(now time.Time) thermal.ZoneHistory {
	h := make(thermal.ZoneHistory, 0, len(a.days))
	take := func(d day, start int64) {
		if d.seconds >= minMeasuredOfDay.Seconds() {
			h = append(h, thermal.Day{Start: time.Unix(start, 0).UTC(), Mean: d.sum / d.seconds, Range: d.most - d.least})
		}
	}
	hour := number(now, time.Hour)
	first := hour
	for back := int64(24); back < recentHours; back += 24 {
		var d day
		for i := range int64(24) {
			if x := a.hours[hour-back+i]; x != nil {
				d.add(*x)
			}
		}
		take(d, (hour-back)*3600)
		first = hour - back
	}
	for number, d := range a.days {
		if (number+1)*24 <= first {
			take(*d, number*24*3600)
		}
	}
	slices.SortFunc(h, func(a, b thermal.Day) int { return a.Start.Compare(b.Start) })
	return h
}

// middleDay is the median of the same day or hour by several probes.
func middleDay(of []day) day {
	middle := func(f func(day) float64) float64 {
		v := make([]float64, len(of))
		for i, d := range of {
			v[i] = f(d)
		}
		slices.Sort(v)
		n := len(v)
		if n%2 == 1 {
			return v[n/2]
		}
		return (v[n/2-1] + v[n/2]) / 2
	}
	d := day{
		least: middle(func(d day) float64 { return d.least }),
		most:  middle(func(d day) float64 { return d.most }),
	}
	for _, e := range of {
		d.seconds = max(d.seconds, e.seconds)
	}
	d.sum = middle(func(d day) float64 { return d.sum / d.seconds }) * d.seconds
	return d
}
