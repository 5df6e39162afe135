package pastreadings

import (
	"errors"
	"iter"
	"math"
	"time"

	"example.com/ootherm/sensor"
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
	apart   map[string]float64  // zone: how far apart they may be, K
	correct calibration.Timeline
	warmer  float64 // K, added to each temperature
	blocks  *blocks
	derived Derived   // nil: nothing is kept
	settled time.Time // no reading before it can still arrive
}

var (
	_ track.Past    = Reader{}
	_ track.Spanned = Reader{}
)

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

// Exposure sums what a source felt. A zone of several probes is summed from blocks; where
// there is no whole block, it has no sums.
func (r Reader) Exposure(s track.Source, warmer float64, from, to time.Time) (x thermal.Exposure, first, last thermal.Sample, ok bool, err error) {
	probes := r.Probes(s)
	if len(probes) == 1 {
		r.warmer = warmer
		correct := func(at time.Time, raw float64) float64 { return r.celsius(probes[0], at, raw) }
		x, first, last, err = r.history.Exposure(probes[0], from, to, correct)
		return x, first, last, true, err
	}
	if to.Sub(from) < 2*time.Duration(blockMillis)*time.Millisecond {
		return x, first, last, false, nil
	}
	var failed []error
	for span, err := range r.Spans(s, warmer, from, to) {
		if err != nil {
			failed = append(failed, err)
			continue
		}
		if first.At.IsZero() {
			first = span.First
		} else {
			track.Between(&x, last, span.First, r.Gap)
		}
		if !span.Last.At.Equal(span.First.At) {
			x = x.Plus(span.Felt)
		}
		last = span.Last
	}
	return x, first, last, true, errors.Join(failed...)
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
func (r Reader) Believed(probes []string, from, to time.Time) iter.Seq2[Reading, error] {
	corrections := make([]calibration.Periods, len(probes))
	for i, name := range probes {
		corrections[i] = r.correct.Of(name)
	}
	return func(yield func(Reading, error) bool) {
		for v, err := range r.mergedValues(probes, from, to) {
			if isDamage(err) {
				continue
			}
			var x Reading
			if err == nil {
				at := time.UnixMilli(v.UnixMilli).UTC()
				m := corrections[v.probe].Measurement(at, sensor.Measurement{Celsius: v.Celsius, Humidity: v.Humidity})
				x = Reading{Probe: probes[v.probe], At: at, Celsius: m.Celsius, Humidity: m.Humidity}
			}
			if !yield(x, err) {
				return
			}
		}
	}
}

// Means gives the means of a probe's temperatures for each bin of a length from one time to
// another; NaN where nothing was measured. Readings that are damaged count as not measured.
func (r Reader) Means(probe string, from, to time.Time, bin time.Duration) ([]float64, error) {
	means := make([]float64, max(0, int(to.Sub(from)/bin)))
	counts := make([]int, len(means))
	var failed []error
	for x, err := range r.Believed([]string{probe}, from, to) {
		if err != nil {
			failed = append(failed, err)
			continue
		}
		if i := int(x.At.Sub(from) / bin); i < len(means) && !math.IsNaN(x.Celsius) {
			means[i] += x.Celsius
			counts[i]++
		}
	}
	for i, n := range counts {
		means[i] /= float64(n) // 0/0 is NaN: nothing was measured
	}
	return means, errors.Join(failed...)
}

// Reading is a believed reading of a probe: Celsius, and a ratio that is NaN where the probe
// gave none.
type Reading struct {
	Probe             string
	At                time.Time
	Celsius, Humidity float64
}

// measured reports whether a reading is believed and has a temperature.
func measured(p history.Point) bool { return p.Believed() && !math.IsNaN(p.Celsius) }
