package app

import (
	"math"
	"time"

	"example.com/ootherm/thermal"
)

// recent is what a source did over the last week, a day at a time.
type recent struct {
	days [7]struct {
		number int64
		x      thermal.Exposure
	}
	last thermal.Sample
}

// see takes the next sample of the source. Spans over two hours are left out: they
// say little of how the source runs.
func (r *recent) see(at time.Time, celsius float64) {
	s := thermal.Sample{At: at, Celsius: celsius}
	if math.IsNaN(celsius) {
		return
	}
	if d := at.Sub(r.last.At); !r.last.At.IsZero() && d > 0 && d <= 2*time.Hour {
		number := at.Unix() / 86400
		day := &r.days[number%int64(len(r.days))]
		if day.number != number {
			day.number, day.x = number, thermal.Exposure{}
		}
		day.x.Add(r.last, s)
	}
	r.last = s
}

// lately is the exposure of the last week, up to a time.
func (r *recent) lately(now time.Time) thermal.Exposure {
	var x thermal.Exposure
	for _, d := range r.days {
		if age := now.Unix()/86400 - d.number; age >= 0 && age < int64(len(r.days)) {
			x = x.Plus(d.x)
		}
	}
	return x
}

// recall takes the last week from the history after a start.
func (s *Station) recall() error {
	r := s.reckoner()
	for src, x := range s.sources {
		lately, err := r.recent(src, s.now, func(at time.Time, c float64) {
			if z := s.zoneOf(src.zone); z != nil {
				z.trend.Observe(at, c, true)
			}
		})
		if err != nil {
			return err
		}
		x.recent = lately
	}
	return nil
}

// recent is what a source did over the week up to a time; each sample is shown.
func (r reckoner) recent(src source, upTo time.Time, show func(time.Time, float64)) (*recent, error) {
	lately := &recent{}
	for sample, err := range r.samples(src, upTo.Add(-7*24*time.Hour), upTo.Add(1)) {
		if err != nil {
			return nil, err
		}
		lately.see(sample.At, sample.Celsius)
		show(sample.At, sample.Celsius)
	}
	return lately, nil
}

// reckoner is a reckoner over the history as it is configured now.
func (s *Station) reckoner() reckoner {
	r := reckoner{
		past: s.o.History, zones: map[string][]string{}, correct: *s.corrections.Load(),
		fresh: s.plan.fresh(), gap: s.plan.gapLimit(),
	}
	for _, z := range s.plan.Zones {
		r.zones[z.Name] = z.Probes
	}
	return r
}
