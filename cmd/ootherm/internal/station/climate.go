package station

import (
	"maps"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/track"
)

// recall takes what the sources did before this start from the history: the trend
// of the last hours at once, the last day's spread and their days in the background.
func (s *Station) recall() {
	r := s.historyReader()
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
			x.climate.Get().Resume(sample)
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
			r := s.historyReader()
			return func() ([]*zone.MeanSpread, error) {
				day, err := r.meanSpread(src, upTo)
				return []*zone.MeanSpread{day}, err
			}
		}, func() {}, x.spread)
	}
}

// rebuildClimates takes each source's days from the history, in the worker.
func (s *Station) rebuildClimates() {
	var sources []sourceID
	var values []*rebuild.Value[*track.DailyClimate, thermal.Sample]
	for src, x := range s.sources {
		sources, values = append(sources, src), append(values, x.climate)
	}
	probes := slices.Sorted(maps.Keys(s.probes))
	rebuild.Build(&s.rebuilds, func(upTo time.Time) func() ([]*track.DailyClimate, error) {
		r, place := s.historyReader(), s.plan.Location
		last := make([]thermal.Sample, len(values))
		for i, v := range values {
			last[i] = v.Get().Last()
		}
		return func() ([]*track.DailyClimate, error) {
			days, err := r.days(probes, place, upTo)
			all := make([]*track.DailyClimate, len(sources))
			for i, src := range sources {
				var of []*track.DailyClimate
				for _, probe := range r.probesOf(src) {
					of = append(of, days[probe])
				}
				all[i] = track.NewDailyClimate(place, r.gap)
				all[i].Resume(last[i])
				all[i].AddMedian(of)
			}
			return all, err
		}
	}, s.outdateForecast, values...)
}
