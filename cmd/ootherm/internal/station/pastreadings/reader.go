package pastreadings

import (
	"errors"
	"iter"
	"math"
	"time"

	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// Reader reads the temperatures of sources back, corrected. Nothing in it changes, so any
// goroutine may use it.
type Reader struct {
	Fresh time.Duration // the age at which a reading no longer counts
	Gap   time.Duration // a longer span between two readings was not measured

	history History
	zones   map[string][]string // zone: its probes
	correct calibration.Timeline
	warmer  float64 // K, added to each temperature
}

var _ track.Past = Reader{}

// celsius is what a box feels where a probe reads a raw temperature.
func (r Reader) celsius(probe string, at time.Time, raw float64) float64 {
	return r.correct.Celsius(probe, at, raw) + r.warmer
}

// Probes are the probes that a source takes its temperature from.
func (r Reader) Probes(s track.Source) []string {
	if s.Probe != "" {
		return []string{s.Probe}
	}
	return r.zones[s.Zone]
}

// Samples gives the samples of a source from (inclusive) to (exclusive), warmer by so many
// kelvin. An error stands where samples are missing; those after it follow.
func (r Reader) Samples(s track.Source, warmer float64, from, to time.Time) iter.Seq2[thermal.Sample, error] {
	r.warmer = warmer
	return func(yield func(thermal.Sample, error) bool) {
		for v, err := range r.values(s, from, to) {
			if !yield(thermal.Sample{At: v.At, Celsius: v.Celsius}, err) {
				return
			}
		}
	}
}

// EachSample goes through the samples of a source. The error says what could not be read.
func (r Reader) EachSample(s track.Source, from, to time.Time, do func(thermal.Sample)) error {
	var failed []error
	for x, err := range r.Samples(s, 0, from, to) {
		if err != nil {
			failed = append(failed, err)
			continue
		}
		do(x)
	}
	return errors.Join(failed...)
}

// Exposure sums what one probe felt; a zone of several has no sums.
func (r Reader) Exposure(s track.Source, warmer float64, from, to time.Time) (x thermal.Exposure, first, last thermal.Sample, ok bool, err error) {
	probes := r.Probes(s)
	if len(probes) != 1 {
		return x, first, last, false, nil
	}
	r.warmer = warmer
	correct := func(at time.Time, raw float64) float64 { return r.celsius(probes[0], at, raw) }
	x, first, last, err = r.history.Exposure(probes[0], from, to, correct)
	return x, first, last, true, err
}

// MeanSpread is how far a source's probes were apart over the day before a time.
func (r Reader) MeanSpread(src track.Source, upTo time.Time) (*zone.MeanSpread, error) {
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

// Climates are what each probe did, day by day, up to a time. A block of readings counts to
// the day in which its middle lies: that is at most three hours off. The hours of the last
// days are of the readings. What cannot be read is left out; the errors say why.
func (r Reader) Climates(probes []string, upTo time.Time) (map[string]*track.DailyClimate, error) {
	all := map[string]*track.DailyClimate{}
	var failed []error
	for _, probe := range probes {
		a := track.NewDailyClimate(r.Gap)
		for sum, err := range r.history.Summaries(probe, upTo.AddDate(-track.ClimateYears, 0, 0), upTo) {
			if err != nil {
				failed = append(failed, err)
				continue
			}
			if measured := sum.Exposure.Measured(); sum.Believed > 0 && measured > 0 {
				at := sum.First.At.Add(sum.Last.At.Sub(sum.First.At) / 2)
				correct := func(raw float64) float64 { return r.correct.Celsius(probe, at, raw) }
				a.AddSpan(at, measured, correct(sum.Exposure.Mean()), correct(sum.Least), correct(sum.Most))
			}
		}
		recent := track.NewDailyClimate(r.Gap)
		failed = append(failed, r.EachSample(track.Source{Probe: probe}, track.Recent(upTo), upTo.Add(1), recent.Observe))
		a.AddHours(recent)
		all[probe] = a
	}
	return all, errors.Join(failed...)
}

// Extremes are the lowest and the highest temperature of some probes in a span; false where
// there is none. The error says what could not be read.
func (r Reader) Extremes(probes []string, from, to time.Time) (low, high float64, ok bool, err error) {
	low, high = math.Inf(1), math.Inf(-1)
	var failed []error
	for _, probe := range probes {
		failed = append(failed, r.EachSample(track.Source{Probe: probe}, from, to, func(x thermal.Sample) {
			if !math.IsNaN(x.Celsius) {
				low, high = min(low, x.Celsius), max(high, x.Celsius)
			}
		}))
	}
	return low, high, low <= high, errors.Join(failed...)
}

// Felt sums what eggs felt in a stay. Readings that are damaged are a gap.
func (r Reader) Felt(stay book.Stay) (thermal.Exposure, error) {
	e, err := track.Stay(r, stay, r.Gap)
	return e, withoutDamage(err)
}

// Believed gives the believed readings of probes, corrected, in the order of their times.
// Readings that are damaged are left out: they are a gap.
func (r Reader) Believed(probes []string, from, to time.Time) iter.Seq2[history.Point, error] {
	return func(yield func(history.Point, error) bool) {
		for p, err := range merged(r.history, probes, from, to) {
			if isDamage(err) || err == nil && !measured(p) {
				continue
			}
			p.Measurement = r.correct.Measurement(p.Probe, p.At, p.Measurement)
			if !yield(p, err) {
				return
			}
		}
	}
}

// measured reports whether a reading is believed and has a temperature.
func measured(p history.Point) bool { return p.Believed() && !math.IsNaN(p.Celsius) }
