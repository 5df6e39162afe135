package conditions

import (
	"maps"
	"math"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/response"
	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/track"
)

// recalledTrend is how far back stored readings make a trend (our choice): an alert.Trend
// looks at the last hour.
const recalledTrend = 3 * time.Hour

// Recall takes what the sources did before from the stored readings: the trend of the last
// hours at once, the last day's spread and the days of the climate in the background.
func (c *Conditions) Recall(now time.Time) {
	r := c.past.Reader()
	for _, z := range c.Zones {
		for sample, err := range r.Samples(z.source.id, 0, now.Add(-recalledTrend), now.Add(1)) {
			if err != nil {
				c.past.Report(err)
				continue
			}
			z.source.climate.Get().Resume(sample)
			z.Trend.Observe(sample.At, sample.Celsius, true)
		}
	}
	for name, x := range c.Responses {
		for sample, err := range r.Samples(track.Source{Probe: name}, 0, now.Add(-response.Memory), now.Add(1)) {
			if err != nil {
				c.past.Report(err)
				continue
			}
			x.Observe(sample.At, sample.Celsius)
		}
	}
	c.rebuildSpreads()
	c.RebuildClimates()
}

// Shift moves what is known of this boot when the boot gets another date. What comes from
// the stored readings is outdated until the next Recall.
func (c *Conditions) Shift(by time.Duration) {
	c.Started = c.Started.Add(by)
	for _, p := range c.Probes {
		p.Shift(by)
	}
	for _, x := range c.sources {
		x.zone.Shift(by)
		x.spread.Get().Shift(by)
		x.climate.Get().Shift(by)
	}
	for _, z := range c.Zones {
		z.Trend = alert.Trend{}
	}
	for _, x := range c.Responses {
		*x = response.Response{}
	}
}

// rebuildSpreads takes how far each zone's probes lay apart over the last day from the
// stored readings. What cannot be read is left out.
func (c *Conditions) rebuildSpreads() {
	for _, x := range c.sources {
		if len(x.zone.Probes()) < 2 {
			continue
		}
		rebuild.Build(&c.past.Rebuilds, func(upTo time.Time) func() ([]*zone.MeanSpread, error) {
			r := c.past.Reader()
			return func() ([]*zone.MeanSpread, error) {
				day, err := r.MeanSpread(x.id, upTo)
				return []*zone.MeanSpread{day}, err
			}
		}, func() {}, x.spread)
	}
}

// RebuildClimates takes each source's days from the stored readings, in the worker.
func (c *Conditions) RebuildClimates() {
	var sources []track.Source
	var values []*rebuild.Value[*track.DailyClimate, thermal.Sample]
	for src, x := range c.sources {
		sources, values = append(sources, src), append(values, x.climate)
	}
	probes := slices.Sorted(maps.Keys(c.Probes))
	rebuild.Build(&c.past.Rebuilds, func(upTo time.Time) func() ([]*track.DailyClimate, error) {
		r := c.past.Reader()
		last := make([]thermal.Sample, len(values))
		for i, v := range values {
			last[i] = v.Get().Last()
		}
		return func() ([]*track.DailyClimate, error) {
			days, err := r.Climates(probes, upTo)
			all := make([]*track.DailyClimate, len(sources))
			for i, src := range sources {
				var of []*track.DailyClimate
				for _, probe := range r.Probes(src) {
					of = append(of, days[probe])
				}
				all[i] = track.NewDailyClimate(r.Gap)
				all[i].Resume(last[i])
				all[i].AddMedian(of)
			}
			return all, err
		}
	}, c.changed, values...)
}

// LookBack finds how long the station was off before it started, and when its probes were
// last believed before that. A start whose time is not known says nothing of that.
func (c *Conditions) LookBack(timeKnown bool) {
	c.Off = 0
	if !timeKnown {
		return
	}
	for _, back := range [...]time.Duration{time.Hour, 24 * time.Hour, 30 * 24 * time.Hour} {
		var last time.Time
		for name, probe := range c.Probes {
			for p, err := range c.past.Raw(name, c.Started.Add(-back), c.Started) {
				if err != nil {
					c.past.Report(err)
					continue
				}
				last = later(last, p.At)
				if p.Believed() {
					probe.Earlier = later(probe.Earlier, p.At)
				}
			}
		}
		if !last.IsZero() {
			c.Off = c.Started.Sub(last)
			return
		}
	}
}

// RecallHumidity finds which probes gave a humidity so long before this start, the time
// without a station not counted.
func (c *Conditions) RecallHumidity(remembered time.Duration) {
	from := c.Started.Add(-c.Off - remembered)
	for name, p := range c.Probes {
		if c.plan.Thermometer(name) {
			continue
		}
		for x, err := range c.past.Raw(name, from, c.Started) {
			if err != nil {
				c.past.Report(err)
				continue
			}
			if x.Believed() && !math.IsNaN(x.Humidity) {
				p.MeasuresHumidity = true
				break
			}
		}
	}
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
