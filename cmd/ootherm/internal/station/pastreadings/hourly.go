package pastreadings

import (
	"iter"
	"math"
	"time"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/sensor/history/aggregate"
)

// Hourly gives what a probe measured in each hour of a span, corrected; see
// [history.Store.Hourly]. An hour in which the correction changes is corrected as at its
// middle. A humidity is moved to the hour's mean of the corrected temperature. Any goroutine
// may call it.
func (p *Past) Hourly(probe string, from, to time.Time) iter.Seq2[aggregate.Span, error] {
	return func(yield func(aggregate.Span, error) bool) {
		of := p.corrections.Load().Of(probe)
		for x, err := range p.o.History.Hourly(probe, from, to) {
			if !yield(correctedSpan(x, of), err) {
				return
			}
		}
	}
}

// correctedSpan corrects temperatures by their straight line. A line has a positive slope, so
// the least stays the least.
func correctedSpan(x aggregate.Span, of calibration.Periods) aggregate.Span {
	middle := x.From.Add(x.To.Sub(x.From) / 2)
	c := of.At(middle)
	humidity := func(ratio float64) float64 {
		return of.Measurement(middle, sensor.Measurement{Celsius: x.Celsius.Mean, Humidity: ratio}).Humidity
	}
	t, h := x.Celsius, x.Humidity
	if t.Count > 0 {
		x.Celsius = aggregate.Statistic{Count: t.Count, Mean: c.Temperature.At(t.Mean), Least: c.Temperature.At(t.Least), Most: c.Temperature.At(t.Most)}
	}
	if h.Count > 0 {
		x.Humidity = aggregate.Statistic{Count: h.Count, Mean: humidity(h.Mean), Least: humidity(h.Least), Most: humidity(h.Most)}
	}
	return x
}

// HourlyAccuracy is by how much the humidities that [Past.Hourly] gives of a span may be off:
// the temperature by which they are moved is another at each reading. Changes reports whether
// the correction changes within the span. Any goroutine may call it.
func (p *Past) HourlyAccuracy(probe string, x aggregate.Span) (ratio float64, changes bool) {
	of := p.corrections.Load().Of(probe)
	c := of.At(x.From.Add(x.To.Sub(x.From) / 2))
	// The share of the humidity that is left, at a corrected temperature; a humidity is at most 1.1.
	left := func(celsius float64) float64 {
		raw := (celsius - c.Temperature.Offset) / c.Temperature.Slope
		return c.Apply(sensor.Measurement{Celsius: raw, Humidity: 1}).Humidity
	}
	return 1.1 * math.Abs(left(x.Celsius.Most)-left(x.Celsius.Least)), of.At(x.From) != of.At(x.To)
}
