package rulesview

import (
	"errors"
	"math"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/cycle"
	"example.com/ootherm/alert/daily"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// past makes for the rules, in the worker, what they learn of the stored readings. What
// cannot be read counts as not measured.
type past struct {
	readings *pastreadings.Past
	place    *time.Location // nil: UTC
}

var _ rules.Past = past{}

// Drifts makes drifts of one probe, one for each end.
func (p past) Drifts(probe string, ends [][]alert.Limit) []rules.Rebuilt[*cycle.Drift, rules.Sample] {
	values := make([]*rebuild.Value[*cycle.Drift, rules.Sample], len(ends))
	all := make([]rules.Rebuilt[*cycle.Drift, rules.Sample], len(ends))
	for i, limits := range ends {
		values[i] = rebuild.NewValue(cycle.NewDrift(p.place, limits...), observeDrift)
		all[i] = values[i]
	}
	rebuild.Build(&p.readings.Rebuilds, func(upTo time.Time) func() ([]*cycle.Drift, error) {
		r := p.readings.Reader()
		return func() ([]*cycle.Drift, error) {
			taught := make([]*cycle.Drift, len(ends))
			for i, limits := range ends {
				taught[i] = cycle.NewDrift(p.place, limits...)
			}
			err := eachSample(r, probe, upTo.Add(-rules.DriftMemory), upTo.Add(1), func(x rules.Sample) {
				for _, d := range taught {
					observeDrift(d, x)
				}
			})
			return taught, err
		}
	}, func() {}, values...)
	return all
}

func observeDrift(d *cycle.Drift, x rules.Sample) {
	d.Observe(x.At, x.Celsius, !math.IsNaN(x.Celsius))
}

// HumidityDays makes the days of a probe's humidity.
func (p past) HumidityDays(probe string) rules.Rebuilt[*daily.Trend, rules.Sample] {
	place := p.place
	if place == nil {
		place = time.UTC
	}
	value := rebuild.NewValue(daily.New(place), observeHumidity)
	rebuild.Build(&p.readings.Rebuilds, func(upTo time.Time) func() ([]*daily.Trend, error) {
		r := p.readings.Reader()
		return func() ([]*daily.Trend, error) {
			taught := daily.New(place)
			var failed []error
			for x, err := range r.Believed([]string{probe}, upTo.Add(-rules.HumidityMemory), upTo.Add(1)) {
				if err != nil {
					failed = append(failed, err)
					continue
				}
				taught.Observe(x.At, x.Humidity)
			}
			return []*daily.Trend{taught}, errors.Join(failed...)
		}
	}, func() {}, value)
	return value
}

func observeHumidity(d *daily.Trend, x rules.Sample) { d.Observe(x.At, x.Humidity) }

// Exposure makes what eggs felt beyond a limit.
func (p past) Exposure(kind alert.Kind, limit rules.ExposureLimit, stays []book.Stay) rules.Rebuilt[*rules.Exposure, rules.Sample] {
	value := rebuild.NewValue(rules.NewExposure(kind, limit), (*rules.Exposure).Observe)
	rebuild.Build(&p.readings.Rebuilds, func(upTo time.Time) func() ([]*rules.Exposure, error) {
		r := p.readings.Reader()
		return func() ([]*rules.Exposure, error) {
			felt := rules.NewExposure(kind, limit)
			var failed []error
			for _, stay := range stays {
				to := stay.To
				if to.IsZero() {
					to = upTo.Add(1)
				}
				probes := r.Probes(track.SourceOf(stay))
				felt.Move(probes)
				for _, probe := range probes {
					failed = append(failed, eachSample(r, probe, stay.From, to, felt.Observe))
				}
			}
			return []*rules.Exposure{felt}, errors.Join(failed...)
		}
	}, func() {}, value)
	return value
}

// Probes are the probes that a stay's temperature comes from.
func (p past) Probes(stay book.Stay) []string {
	return p.readings.Reader().Probes(track.SourceOf(stay))
}

// eachSample goes through a probe's temperatures of a span. The error says what could not
// be read.
func eachSample(r pastreadings.Reader, probe string, from, to time.Time, do func(rules.Sample)) error {
	return r.EachSample(track.Source{Probe: probe}, from, to, func(x thermal.Sample) {
		do(rules.Sample{Probe: probe, At: x.At, Celsius: x.Celsius})
	})
}
