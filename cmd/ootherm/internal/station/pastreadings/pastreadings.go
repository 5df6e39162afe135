// Package pastreadings reads back what probes measured, corrected as the calibrations are
// now, as samples of the sources of temperature of plan and book. It also owns the errors
// of these reads, and the runner that rebuilds values from them in the background. It must
// not know what those values are for: alarms, forecasts or pages.
package pastreadings

import (
	"iter"
	"sync/atomic"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/history/aggregate"
	"example.com/ootherm/thermal"
)

// History is the stored readings, safe from any goroutine.
type History interface {
	Range(probe string, from, to time.Time) iter.Seq2[history.Point, error]
	Exposure(probe string, from, to time.Time, correct history.Correction) (x thermal.Exposure, first, last thermal.Sample, err error)
	Boots() []history.Boot
	Summaries(probe string, from, to time.Time) iter.Seq2[history.Summary, error]
	Hourly(probe string, from, to time.Time) iter.Seq2[aggregate.Span, error]
}

// Options are what a Past is made of.
type Options struct {
	History History
	Derived Derived // nil: what is computed is kept in memory alone
	Plan    plan.Plan
	// Worker runs a job beside the station and hands back what the station then applies.
	Worker func(job func() (apply func()))
	// Now is the station's time.
	Now func() time.Time
	// Log takes what could not be read; it may be nil.
	Log func(error)
}

// Past is the readings that a station stored. One goroutine calls its methods, but for
// those that say otherwise.
type Past struct {
	// Rebuilds runs what is computed from the readings in the background.
	Rebuilds rebuild.Runner

	o           Options
	errors      readErrors
	corrections atomic.Pointer[calibration.Timeline]
	blocks      atomic.Pointer[blocks]
	kept        int64 // the block of a source before which KeepBlocks was called
}

// New makes a Past without corrections.
func New(o Options) *Past {
	p := &Past{o: o, errors: newReadErrors()}
	p.Rebuilds = rebuild.Runner{Worker: o.Worker, Now: o.Now, Final: isDamage, Report: p.Report}
	p.corrections.Store(&calibration.Timeline{})
	p.Forget()
	return p
}

// Correct sets the corrections of all probes. It returns the probes whose correction
// changed.
func (p *Past) Correct(t calibration.Timeline) (changed []string) {
	before := p.corrections.Swap(&t)
	if changed = t.Changed(*before); len(changed) > 0 {
		p.Forget()
	}
	return changed
}

// Measurement corrects what a probe measured at a time.
func (p *Past) Measurement(probe string, at time.Time, raw sensor.Measurement) sensor.Measurement {
	return p.corrections.Load().Measurement(probe, at, raw)
}

// TemperatureSD is how wrong a probe's corrected temperatures since a time may be throughout,
// in K, one standard deviation; 0 where it was not compared before.
func (p *Past) TemperatureSD(probe string, since time.Time) float64 {
	return p.corrections.Load().Of(probe).TemperatureSD(since)
}

// Readings gives the readings of a probe in a span, corrected. Any goroutine may call it.
func (p *Past) Readings(probe string, from, to time.Time) iter.Seq2[history.Point, error] {
	return func(yield func(history.Point, error) bool) {
		for x, err := range p.o.History.Range(probe, from, to) {
			x.Measurement = p.Measurement(probe, x.At, x.Measurement)
			if !yield(x, err) {
				return
			}
		}
	}
}

// Raw gives the readings of a probe in a span as the probe gave them. Any goroutine may
// call it.
func (p *Past) Raw(probe string, from, to time.Time) iter.Seq2[history.Point, error] {
	return p.o.History.Range(probe, from, to)
}

// Reader reads the readings with the corrections as they are now.
func (p *Past) Reader() Reader {
	r := Reader{
		history: p.o.History, zones: map[string][]string{}, apart: map[string]float64{}, correct: *p.corrections.Load(),
		Fresh: p.o.Plan.Fresh(), Gap: p.o.Plan.GapLimit(),
		blocks: p.blocks.Load(), derived: p.o.Derived, settled: p.o.Now().Add(-settledAfter),
	}
	for _, z := range p.o.Plan.Zones {
		r.zones[z.Name], r.apart[z.Name] = z.Probes, z.Apart
	}
	return r
}
