package incident

import (
	"iter"
	"math"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
)

// Hour is what the readings of one probe come to in an hour, or in another short span.
type Hour struct {
	From, To         time.Time     // To is exclusive
	Measured         time.Duration // between readings that are at most the gap limit apart
	Celsius          Extremes
	Humidity         Extremes // ratios; NaN where the probe gave none
	HumidityAccuracy float64  // by how much the humidities may be off
	Recalibrated     bool     // the correction changes within it: the figures say little
}

// Extremes are the least and the most of some values.
type Extremes struct{ Least, Most float64 }

// celsiusAccuracy is by how much a stored extreme may be off.
const celsiusAccuracy = 1e-6 // K

// longestStep is the longest gap limit for which hours are used: what happens between two
// readings must lie within an hour and its neighbours.
const longestStep = 30 * time.Minute

// span is a part of the query's span.
type span struct{ from, to time.Time }

// spans gives the parts of the query's span that decide what is said of a zone, in their order:
// where a reading is past a limit, is an extreme of the whole, or is missing, and its ends. In
// the rest nothing is past a limit and nothing is missing.
func (q Query) spans(z plan.Zone, limits []*crossing) []span {
	whole := []span{{q.From, q.To}}
	step := max(q.Gap, q.Fresh)
	if q.Hourly == nil || step > longestStep || q.To.Sub(q.From) < 12*time.Hour {
		return whole
	}
	var hours []Hour
	covered := make([]bool, q.cells()) // by one of the probes
	for _, name := range z.Probes {
		of, err := collect(q.Hourly(name, q.From, q.To))
		if err != nil {
			return whole // the readings tell what cannot be read
		}
		for i, there := range q.coveredBy(of) {
			covered[i] = covered[i] || there
		}
		hours = append(hours, of...)
	}
	needed := make([]bool, len(covered))
	for i := range needed {
		needed[i] = !covered[i] || i == 0 || i == len(needed)-1
	}
	extreme := q.extremes(hours)
	for _, h := range hours {
		if !extreme(h) && !slices.ContainsFunc(limits, func(l *crossing) bool { return l.reachedIn(h) }) {
			continue
		}
		for i := range needed {
			needed[i] = needed[i] || h.From.Before(q.cell(i+1)) && h.To.After(q.cell(i))
		}
	}
	var all []span
	for i, n := range needed {
		if !n {
			continue
		}
		// What leads to a reading, and what follows it, lies at most a step away.
		from, to := later(q.From, q.cell(i).Add(-step-time.Second)), earlier(q.To, q.cell(i+1).Add(step+time.Second))
		if k := len(all); k > 0 && !from.After(all[k-1].to) {
			all[k-1].to = to
		} else {
			all = append(all, span{from, to})
		}
	}
	return all
}

func collect(hours iter.Seq2[Hour, error]) (all []Hour, err error) {
	for h, err := range hours {
		if err != nil {
			return nil, err
		}
		all = append(all, h)
	}
	return all, nil
}

// cells is how many hours the span has, cell where one begins.
func (q Query) cells() int { return int((q.To.Sub(q.From) + time.Hour - 1) / time.Hour) }

func (q Query) cell(i int) time.Time { return q.From.Add(time.Duration(i) * time.Hour) }

// coveredBy reports of each cell whether a probe was measured through all of it.
func (q Query) coveredBy(hours []Hour) []bool {
	covered := make([]bool, q.cells())
	var run span // measured throughout
	settle := func() {
		for i := range covered {
			covered[i] = covered[i] || !q.cell(i).Before(run.from) && !q.cell(i+1).After(run.to)
		}
	}
	for _, h := range hours {
		whole := h.Measured >= h.To.Sub(h.From)
		if whole && h.From.Equal(run.to) {
			run.to = h.To
			continue
		}
		settle()
		run = span{}
		if whole {
			run = span{h.From, h.To}
		}
	}
	settle()
	return covered
}

// extremes gives whether an hour may hold the least or the most of a quantity in the span. The
// hours at its ends hold readings outside it too, and are not compared with.
func (q Query) extremes(hours []Hour) func(Hour) bool {
	none := Extremes{math.Inf(1), math.Inf(-1)}
	heat, damp := none, none
	for _, h := range hours {
		if h.From.Before(q.From) || h.To.After(q.To) || h.Recalibrated {
			continue
		}
		heat = Extremes{min(heat.Least, h.Celsius.Least), max(heat.Most, h.Celsius.Most)}
		if !math.IsNaN(h.Humidity.Least) {
			damp = Extremes{min(damp.Least, h.Humidity.Least+h.HumidityAccuracy), max(damp.Most, h.Humidity.Most-h.HumidityAccuracy)}
		}
	}
	return func(h Hour) bool {
		return h.Recalibrated || h.Celsius.Least <= heat.Least+celsiusAccuracy || h.Celsius.Most >= heat.Most-celsiusAccuracy ||
			h.Humidity.Least-h.HumidityAccuracy <= damp.Least+celsiusAccuracy || h.Humidity.Most+h.HumidityAccuracy >= damp.Most-celsiusAccuracy
	}
}

// reachedIn reports whether a reading of an hour may be past a limit.
func (l *crossing) reachedIn(h Hour) bool {
	of, accuracy := h.Celsius, celsiusAccuracy
	if l.Of == "humidity" {
		of, accuracy = h.Humidity, h.HumidityAccuracy+celsiusAccuracy
	}
	if l.warm {
		return of.Most+accuracy > l.Limit
	}
	return of.Least-accuracy < l.Limit
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func earlier(a, b time.Time) time.Time {
	if a.Before(b) {
		return a
	}
	return b
}
