package station

import (
	"errors"
	"iter"
	"math"
	"time"

	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// historyReader reads the temperatures of sources back from the history, corrected. It
// holds nothing that changes, so that a worker may use it beside the station.
type historyReader struct {
	past    Past
	zones   map[string][]string // zone: its probes
	correct calibration.Timeline
	warmer  float64 // K, added to each temperature
	fresh   time.Duration
	gap     time.Duration
}

var _ track.Past = historyReader{}

// historyReader reads the history as it is configured and corrected now.
func (s *Station) historyReader() historyReader {
	r := historyReader{
		past: s.o.History, zones: map[string][]string{}, correct: *s.corrections.Load(),
		fresh: s.plan.Fresh(), gap: s.plan.GapLimit(),
	}
	for _, z := range s.plan.Zones {
		r.zones[z.Name] = z.Probes
	}
	return r
}

// celsius is what a box feels where a probe reads a raw temperature.
func (r historyReader) celsius(probe string, at time.Time, raw float64) float64 {
	return r.correct.Celsius(probe, at, raw) + r.warmer
}

func (r historyReader) probesOf(s sourceID) []string {
	if s.probe != "" {
		return []string{s.probe}
	}
	return r.zones[s.zone]
}

// idOf names a source of the book.
func idOf(s track.Source) sourceID { return sourceID{probe: s.Probe, zone: s.Zone} }

// sourceOf names the source of a stay.
func sourceOf(s book.Stay) sourceID { return idOf(track.SourceOf(s)) }

// Samples gives the samples of a source, warmer by so many kelvin.
func (r historyReader) Samples(s track.Source, warmer float64, from, to time.Time) iter.Seq2[thermal.Sample, error] {
	r.warmer = warmer
	return r.samples(idOf(s), from, to)
}

// Exposure sums what one probe felt; a zone of several has no sums.
func (r historyReader) Exposure(s track.Source, warmer float64, from, to time.Time) (x thermal.Exposure, first, last thermal.Sample, ok bool, err error) {
	probes := r.probesOf(idOf(s))
	if len(probes) != 1 {
		return x, first, last, false, nil
	}
	r.warmer = warmer
	correct := func(at time.Time, raw float64) float64 { return r.celsius(probes[0], at, raw) }
	x, first, last, err = r.past.Exposure(probes[0], from, to, correct)
	return x, first, last, true, err
}

// meanSpread is how far a source's probes were apart over the day before a time.
func (r historyReader) meanSpread(src sourceID, upTo time.Time) (*zone.MeanSpread, error) {
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

// days are what each probe did, day by day, up to a time. A block of readings counts to
// the day in which its middle lies: that is at most three hours off. A summary that
// cannot be read is left out; the errors say why.
func (r historyReader) days(probes []string, place *time.Location, upTo time.Time) (map[string]*track.DailyClimate, error) {
	all := map[string]*track.DailyClimate{}
	var failed []error
	for _, probe := range probes {
		a := track.NewDailyClimate(place, r.gap)
		for sum, err := range r.past.Summaries(probe, upTo.AddDate(-track.ClimateYears, 0, 0), upTo) {
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
		all[probe] = a
	}
	return all, errors.Join(failed...)
}
