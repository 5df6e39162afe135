package track

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/thermal"
)

// day is what was measured of one day.
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

// DailyClimate is what a source did day by day, in this season and in earlier ones.
type DailyClimate struct {
	place *time.Location
	gap   time.Duration // a longer span was not measured
	days  map[int64]day // by the number of the day
	last  thermal.Sample
}

// NewDailyClimate counts days where the station is; nil is UTC. A span longer than gap,
// and than two hours, was not measured.
func NewDailyClimate(place *time.Location, gap time.Duration) *DailyClimate {
	a := &DailyClimate{place: place, gap: max(minClimateGap, gap), days: map[int64]day{}}
	if a.place == nil {
		a.place = time.UTC
	}
	return a
}

// Place is where the days are counted.
func (a *DailyClimate) Place() *time.Location { return a.place }

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

// AddSpan adds a span of stored readings in C to the day of one of its times.
func (a *DailyClimate) AddSpan(at time.Time, measured time.Duration, mean, least, most float64) {
	seconds := measured.Seconds()
	a.add(a.number(at), day{seconds: seconds, sum: mean * seconds, least: least, most: most})
}

// AddMedian adds the days of several sources: of each day, the median of theirs.
func (a *DailyClimate) AddMedian(of []*DailyClimate) {
	several := map[int64][]day{}
	for _, x := range of {
		for number, d := range x.days {
			several[number] = append(several[number], d)
		}
	}
	for number, of := range several {
		a.add(number, middleDay(of))
	}
}

func (a *DailyClimate) number(at time.Time) int64 {
	y, m, d := at.In(a.place).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400
}

// Observe takes the next sample of the source; one before the last is left out.
func (a *DailyClimate) Observe(s thermal.Sample) {
	if math.IsNaN(s.Celsius) || s.At.Before(a.last.At) {
		return
	}
	if d := s.At.Sub(a.last.At); !a.last.At.IsZero() && d > 0 && d <= a.gap {
		a.add(a.number(s.At), day{
			seconds: d.Seconds(), sum: (a.last.Celsius + s.Celsius) / 2 * d.Seconds(),
			least: min(a.last.Celsius, s.Celsius), most: max(a.last.Celsius, s.Celsius),
		})
	}
	a.last = s
}

func (a *DailyClimate) add(number int64, d day) {
	sum := a.days[number]
	sum.add(d)
	a.days[number] = sum
}

// History is the days of which enough was measured.
func (a *DailyClimate) History() thermal.ZoneHistory {
	h := make(thermal.ZoneHistory, 0, len(a.days))
	for number, d := range a.days {
		if d.seconds >= minMeasuredOfDay.Seconds() {
			h = append(h, thermal.Day{
				Start: a.start(number), Mean: d.sum / d.seconds, Range: d.most - d.least,
			})
		}
	}
	slices.SortFunc(h, func(a, b thermal.Day) int { return a.Start.Compare(b.Start) })
	return h
}

// start is the beginning of a day where the station is.
func (a *DailyClimate) start(number int64) time.Time {
	y, m, d := time.Unix(number*86400, 0).UTC().Date()
	return time.Date(y, m, d, 0, 0, 0, 0, a.place)
}

// middleDay is the median of the same day by several probes.
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
