package thermal

import (
	"math"
	"slices"
	"time"
)

// Day is the temperature of a zone over 24 hours.
type Day struct {
	Start time.Time
	Mean  float64 // Celsius
	Range float64 // K: warmest less coldest
}

// ZoneHistory is the temperature of a zone, day by day, in this season and earlier
// ones. Days that were not measured, and the one that is not over, are absent. The order
// does not matter.
type ZoneHistory []Day

// How a zone's days to come follow from its days past. The first figures are
// assumptions; with years of a zone's own they count for less and less. In four rooms of one
// house, recorded from winter to spring, the mean of 30 to 90 days to come was 0.7 to 1.25 K
// off the forecast, 1.0 K in all (root mean square), and 0.9 to 1.8 K off the last week.
const (
	week          = 7
	setPointTrust = 3.0  // days of measurements that a set point is worth
	zoneSD        = 1.0  // K: the mean of weeks to come
	lastWeekSD    = 1.5  // K: the last week, taken as them
	spreadTrust   = 1.0  // seasons (or spans of a month) that these two are worth
	usualSD       = 2.5  // K: of a zone around what is usual for what is kept there
	leastSD       = 0.2  // K: no zone is known better than its probe
	departureDays = 30.0 // days in which a departure from the season's course dies down to a third
	aheadDays     = 120  // how far ahead a season's course is told
	errorDays     = 30   // how far ahead the forecasts are judged
	yearDays      = 365.2425
)

// Climate forecasts the zone's temperature from its past, from its set point and
// from the usual temperature of the species kept there (both Celsius, NaN: not
// known).
//
// It starts from the middle of the last seven days: the mean of the three that are
// left when the two coldest and the two warmest are taken away. One night with a window
// open lies in at most two of them, and so does not bend the time to come; the middle of
// seven follows a season as their mean does (our choice). It is shrunk towards the set
// point, which is worth three days of measurements. Where earlier years show the
// season's course it follows that: their mean, day by day, and the departure of
// the last days from it, dying down over a month. Its spread is how wrong the
// same forecast was before, shrunk towards an assumption (1 K). Where neither a set point nor an earlier year is known, the last
// week is not simply drawn on: day by day it is shrunk towards the usual
// temperature, give or take 2.5 K, the more the further ahead and the worse it
// did before. It is false where nothing is known at all.
func (h ZoneHistory) Climate(setPoint, usual float64, now time.Time) (Climate, bool) {
	d := h.table(now)
	const today = -1
	level, known := d.lately(today)
	set := !math.IsNaN(setPoint)
	years := d.years(today)
	var squares, spans float64
	if len(years) > 1 {
		squares, spans = d.seasonErrors(today, years)
	} else {
		squares, spans = d.weekErrors(today)
	}
	c := Climate{DailyRange: d.swing(today), Past: d.past(today)}
	spread := func(assumed float64) float64 {
		return math.Max(leastSD, math.Sqrt((spreadTrust*assumed*assumed+squares)/(spreadTrust+spans)))
	}
	c.SD = spread(zoneSD)
	switch {
	case known == 0 && set:
		level = setPoint
	case known == 0 && !math.IsNaN(usual):
		level, c.SD = usual, usualSD
	case known == 0:
		return Climate{Mean: math.NaN(), SD: math.NaN()}, false
	case set:
		level = (setPointTrust*setPoint + float64(known)*level) / (setPointTrust + float64(known))
	case len(years) == 0 && !math.IsNaN(usual):
		c.Days = towards(usual, level, spread(lastWeekSD))
	}
	c.Mean = level
	if c.Days == nil {
		c.Days = d.season(today, level, years)
	}
	if len(c.Days) > 0 {
		c.Mean = mean(c.Days[max(0, len(c.Days)-week):])
	}
	return c, true
}

// towards is the last week drawn on, and shrunk towards the usual temperature the
// more the further ahead: how wrong it is grows as a wandering does, its square
// with the time, up to what it is over a month.
func towards(usual, level, sd float64) []float64 {
	out := make([]float64, errorDays)
	for i := range out {
		wrong := sd * sd * (float64(i) + 0.5) / errorDays
		out[i] = usual + usualSD*usualSD/(usualSD*usualSD+wrong)*(level-usual)
	}
	return out
}

// days is a history laid out by the number of the day, -1 for the last that is over; what
// is missing is NaN.
type days struct {
	first  int
	mean   []float64
	ranges []float64
}

// dayNumber is how many times 24 hours before the hour of now a time lies, downwards: the
// same in every time zone.
func dayNumber(t, now time.Time) int {
	return int(math.Floor(t.Sub(now.Truncate(time.Hour)).Hours() / 24))
}

func (h ZoneHistory) table(now time.Time) days {
	var d days
	if len(h) == 0 {
		return d
	}
	first, last := math.MaxInt, math.MinInt
	for _, day := range h {
		n := dayNumber(day.Start, now)
		first, last = min(first, n), max(last, n)
	}
	d.first = first
	d.mean = slices.Repeat([]float64{math.NaN()}, last-first+1)
	d.ranges = slices.Clone(d.mean)
	for _, day := range h {
		n := dayNumber(day.Start, now) - first
		d.mean[n], d.ranges[n] = day.Mean, day.Range
	}
	return d
}

func (d days) at(day int) float64 {
	if day < d.first || day >= d.first+len(d.mean) {
		return math.NaN()
	}
	return d.mean[day-d.first]
}

// over is the mean of the days from..to-1 that are known, and how many are.
func (d days) over(from, to int) (mean float64, known int) {
	for day := from; day < to; day++ {
		if v := d.at(day); !math.IsNaN(v) {
			mean += v
			known++
		}
	}
	return mean / float64(known), known
}

// pastDays is how far back a climate goes: a window that is open has opened since then
// (our choice).
const pastDays = 60

// past is the mean of each day up to and with one, the last first. What was not measured is
// as the day after it.
func (d days) past(today int) []float64 {
	var out []float64
	last := math.NaN()
	for day := today; day > today-pastDays && day >= d.first; day-- {
		if v := d.at(day); !math.IsNaN(v) {
			for i := range out {
				if math.IsNaN(out[i]) {
					out[i] = v
				}
			}
			last = v
		}
		out = append(out, last)
	}
	if math.IsNaN(last) {
		return nil
	}
	return out
}

// lately is the middle of the week up to and with a day, and how many of its days are known.
func (d days) lately(today int) (float64, int) {
	var known []float64
	for day := today - week + 1; day <= today; day++ {
		if v := d.at(day); !math.IsNaN(v) {
			known = append(known, v)
		}
	}
	return middle(known), len(known)
}

// mostLeftOut is how many days of a week are left out at either end (our choice): a night
// lies in two days at most.
const mostLeftOut = 2

// middle is the mean of what is left of values without the lowest and the highest; NaN of
// none.
func middle(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	slices.Sort(v)
	out := min(mostLeftOut, (len(v)-1)/2)
	return mean(v[out : len(v)-out])
}

// swing is the daily range lately, 0 where none is known.
func (d days) swing(today int) float64 {
	var known []float64
	for day := max(today-week+1, d.first); day <= today && day < d.first+len(d.ranges); day++ {
		if v := d.ranges[day-d.first]; !math.IsNaN(v) {
			known = append(known, v)
		}
	}
	if len(known) == 0 {
		return 0
	}
	return middle(known)
}

// years are how many days back the same day of each earlier year is of which the
// week before and days after are known.
func (d days) years(today int) []int {
	var out []int
	for y := 1; ; y++ {
		back := int(math.Round(float64(y) * yearDays))
		if today-back < d.first {
			return out
		}
		_, before := d.lately(today - back)
		_, after := d.over(today-back+1, today-back+1+week)
		if before >= 3 && after >= 3 {
			out = append(out, back)
		}
	}
}

// smooth is one day of an earlier year, by the days around it: what is wanted is
// the season, not that year's weather.
func (d days) smooth(day int) float64 {
	v, n := d.over(day-3, day+4)
	if n < 3 {
		return math.NaN()
	}
	return v
}

// season is the course of the coming days by earlier years, nil where there are
// none. One year says less than two: the course is shrunk towards staying as it
// is, and the departure from it does not die down at first.
func (d days) season(today int, level float64, years []int) []float64 {
	if len(years) == 0 {
		return nil
	}
	then := d.then(today, years)
	trust := float64(len(years)) / (float64(len(years)) + 0.5)
	var out []float64
	for ahead := 1; ahead <= aheadDays; ahead++ {
		var sum float64
		n := 0
		for _, back := range years {
			if v := d.smooth(today - back + ahead); !math.IsNaN(v) {
				sum += v
				n++
			}
		}
		if n == 0 {
			break
		}
		left := math.Exp(-float64(ahead) / departureDays)
		left = 1 - (1-left)*trust*trust
		out = append(out, level+trust*(sum/float64(n)-then)-trust*(1-left)*(level-then))
	}
	return out
}

// then is what the last week was in earlier years.
func (d days) then(today int, years []int) float64 {
	var sum float64
	for _, back := range years {
		v, _ := d.lately(today - back)
		sum += v
	}
	return sum / float64(len(years))
}

// seasonErrors are the squared errors of each earlier year's month after this
// day, foretold from the other years.
func (d days) seasonErrors(today int, years []int) (squares, spans float64) {
	for i, back := range years {
		others := slices.Delete(slices.Clone(years), i, i+1)
		for j := range others {
			others[j] -= back
		}
		then := today - back
		level, _ := d.lately(then)
		foretold := d.season(then, level, others)
		if e, ok := d.off(then, foretold); ok {
			squares += e * e
			spans++
		}
	}
	return squares, spans
}

// weekErrors are the squared errors of the last week taken as the time to come,
// over the season so far. A young season has no month to judge by: what the time
// to come was over as long as there is, is stretched to a month as a wandering
// is, by the root of the time. Successive days tell nearly the same, so they
// count as many as there are such times.
func (d days) weekErrors(today int) (squares, spans float64) {
	from := max(d.first, today-365)
	ahead := min(errorDays, (today-from)/2)
	if ahead < 3 {
		return 0, 0
	}
	var sum, n float64
	for then := from + 2; then+ahead <= today; then++ {
		level, known := d.lately(then)
		if known < 3 {
			continue
		}
		if e, ok := d.off(then, slices.Repeat([]float64{level}, ahead)); ok {
			sum += e * e * errorDays / float64(ahead)
			n++
		}
	}
	if n == 0 {
		return 0, 0
	}
	spans = n / float64(ahead)
	return sum / n * spans, spans
}

// off is how wrong the mean of a forecast was over the month after a day.
func (d days) off(then int, foretold []float64) (float64, bool) {
	var sum float64
	n := 0
	for i, v := range foretold[:min(len(foretold), errorDays)] {
		if actual := d.at(then + 1 + i); !math.IsNaN(actual) {
			sum += v - actual
			n++
		}
	}
	if n < 3 {
		return 0, false
	}
	return sum / float64(n), true
}

func mean(v []float64) float64 {
	var sum float64
	for _, x := range v {
		sum += x
	}
	return sum / float64(len(v))
}
