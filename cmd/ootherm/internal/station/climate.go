package station

import (
	"errors"
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal"
)

// A dayOf is what was measured of one day.
type dayOf struct {
	seconds     float64
	sum         float64 // kelvin seconds above 0 C
	least, most float64 // C
}

func (d *dayOf) add(e dayOf) {
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

// enough is how much of a day must have been measured for it to count: a morning
// alone is colder than its day (our choice).
const enough = 12 * time.Hour

// almanac is what a source did day by day, in the days of the station's place: in
// this season and in earlier ones.
type almanac struct {
	place *time.Location
	gap   time.Duration   // a longer span was not measured
	days  map[int64]dayOf // by the number of the day
	last  thermal.Sample
}

// Two hours without a sample say little of how a source runs (our choice).
func newAlmanac(p plan.Plan) *almanac {
	a := &almanac{place: p.Location, gap: max(2*time.Hour, p.GapLimit()), days: map[int64]dayOf{}}
	if a.place == nil {
		a.place = time.UTC
	}
	return a
}

func (a *almanac) number(at time.Time) int64 {
	y, m, d := at.In(a.place).Date()
	return time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400
}

// see takes the next sample of the source.
func (a *almanac) see(s thermal.Sample) {
	if math.IsNaN(s.Celsius) || s.At.Before(a.last.At) {
		return
	}
	if d := s.At.Sub(a.last.At); !a.last.At.IsZero() && d > 0 && d <= a.gap {
		a.add(a.number(s.At), dayOf{
			seconds: d.Seconds(), sum: (a.last.Celsius + s.Celsius) / 2 * d.Seconds(),
			least: min(a.last.Celsius, s.Celsius), most: max(a.last.Celsius, s.Celsius),
		})
	}
	a.last = s
}

func (a *almanac) add(number int64, d dayOf) {
	sum := a.days[number]
	sum.add(d)
	a.days[number] = sum
}

// history is the days that count, as the climate is told by them.
func (a *almanac) history() thermal.ZoneHistory {
	h := make(thermal.ZoneHistory, 0, len(a.days))
	for number, d := range a.days {
		if d.seconds >= enough.Seconds() {
			h = append(h, thermal.Day{
				Start: a.start(number), Mean: d.sum / d.seconds, Range: d.most - d.least,
			})
		}
	}
	slices.SortFunc(h, func(a, b thermal.Day) int { return a.Start.Compare(b.Start) })
	return h
}

// start is the beginning of a day where the station is.
func (a *almanac) start(number int64) time.Time {
	y, m, d := time.Unix(number*86400, 0).UTC().Date()
	return time.Date(y, m, d, 0, 0, 0, 0, a.place)
}

// The past that an almanac is made of after a start: more seasons say little more
// of the course of one.
const almanacYears = 6

// recall takes what the sources did before this start from the history: the trend
// of the last hours at once, the last day's spread and their days in the background.
func (s *Station) recall() {
	r := s.reckoner()
	for src, x := range s.sources {
		z := s.zoneOf(src.zone)
		if z == nil {
			continue
		}
		for sample, err := range r.samples(src, s.now.Add(-3*time.Hour), s.now.Add(1)) {
			if err != nil {
				s.reportRead(err)
				continue
			}
			x.almanac.Get().last = sample
			z.trend.Observe(sample.At, sample.Celsius, true)
		}
	}
	s.rebuildSpreads()
	s.rebuildClimates()
}

// rebuildSpreads takes how far each zone's probes lay apart over the last day from the
// history. What cannot be read is left out.
func (s *Station) rebuildSpreads() {
	for src, x := range s.sources {
		if len(x.zone.Probes()) < 2 {
			continue
		}
		rebuild.Build(&s.rebuilds, func(upTo time.Time) func() ([]*zone.MeanSpread, error) {
			r := s.reckoner()
			return func() ([]*zone.MeanSpread, error) {
				day, err := r.meanSpread(src, upTo)
				return []*zone.MeanSpread{day}, err
			}
		}, func() {}, x.spread)
	}
}

// meanSpread is how far a source's probes were apart over the day before a time.
func (r reckoner) meanSpread(src sourceID, upTo time.Time) (*zone.MeanSpread, error) {
	var day zone.MeanSpread
	var failed []error
	sum, n := 0.0, 0
	for v, err := range r.values(src, upTo.Add(-24*time.Hour), upTo.Add(1)) {
		if err != nil {
			failed = append(failed, err)
			continue
		}
		if !math.IsNaN(v.Spread) {
			sum, n, day.At = sum+v.Spread, n+1, v.At
		}
	}
	if n > 0 {
		day.Kelvin = sum / float64(n)
	}
	return &day, errors.Join(failed...)
}

// rebuildClimates takes each source's days from the history, in the worker.
func (s *Station) rebuildClimates() {
	var sources []sourceID
	var values []*rebuild.Value[*almanac, thermal.Sample]
	for src, x := range s.sources {
		sources, values = append(sources, src), append(values, x.almanac)
	}
	probes := slices.Sorted(maps.Keys(s.probes))
	rebuild.Build(&s.rebuilds, func(upTo time.Time) func() ([]*almanac, error) {
		r, plan := s.reckoner(), s.plan
		last := make([]thermal.Sample, len(values))
		for i, v := range values {
			last[i] = v.Get().last
		}
		return func() ([]*almanac, error) {
			days, err := r.days(probes, plan, upTo)
			all := make([]*almanac, len(sources))
			for i, src := range sources {
				all[i] = newAlmanac(plan)
				all[i].last = last[i]
				all[i].addProbes(r.probesOf(src), days)
			}
			return all, err
		}
	}, s.forgetWindows, values...)
}

// days is what each probe did, day by day, up to a time. A block of readings
// counts to the day in which its middle lies: that is at most three hours off. A
// summary that cannot be read is a day less, and no more: the climate lives on the
// others.
func (r reckoner) days(probes []string, plan plan.Plan, upTo time.Time) (map[string]map[int64]dayOf, error) {
	all := map[string]map[int64]dayOf{}
	var failed []error
	for _, probe := range probes {
		a := newAlmanac(plan)
		for sum, err := range r.past.Summaries(probe, upTo.AddDate(-almanacYears, 0, 0), upTo) {
			if err != nil {
				failed = append(failed, err)
				continue
			}
			if sum.Believed == 0 {
				continue
			}
			x := sum.Exposure
			if seconds := x.Measured().Seconds(); seconds > 0 {
				at := sum.First.At.Add(sum.Last.At.Sub(sum.First.At) / 2)
				correct := func(raw float64) float64 { return r.correct.celsius(probe, at, raw) }
				a.add(a.number(at), dayOf{
					seconds: seconds, sum: correct(x.Mean()) * seconds,
					least: correct(sum.Least), most: correct(sum.Most),
				})
			}
		}
		all[probe] = a.days
	}
	return all, errors.Join(failed...)
}

// addProbes adds the days of a source's probes; a zone's day is the median of theirs.
func (a *almanac) addProbes(probes []string, days map[string]map[int64]dayOf) {
	several := map[int64][]dayOf{}
	for _, probe := range probes {
		for number, d := range days[probe] {
			several[number] = append(several[number], d)
		}
	}
	for number, of := range several {
		a.add(number, middleDay(of))
	}
}

// middleDay is the median of the same day by several probes.
func middleDay(of []dayOf) dayOf {
	middle := func(f func(dayOf) float64) float64 {
		v := make([]float64, len(of))
		for i, d := range of {
			v[i] = f(d)
		}
		slices.Sort(v)
		return zone.Median(v)
	}
	d := dayOf{
		least: middle(func(d dayOf) float64 { return d.least }),
		most:  middle(func(d dayOf) float64 { return d.most }),
	}
	for _, e := range of {
		d.seconds = max(d.seconds, e.seconds)
	}
	d.sum = middle(func(d dayOf) float64 { return d.sum / d.seconds }) * d.seconds
	return d
}

// reckoner is a reckoner over the history as it is configured now.
func (s *Station) reckoner() reckoner {
	r := reckoner{
		past: s.o.History, zones: map[string][]string{}, correct: *s.corrections.Load(),
		fresh: s.plan.Fresh(), gap: s.plan.GapLimit(),
	}
	for _, z := range s.plan.Zones {
		r.zones[z.Name] = z.Probes
	}
	return r
}
