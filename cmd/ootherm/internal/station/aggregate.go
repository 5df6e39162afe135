package station

import (
	"iter"
	"math"
	"slices"
	"time"

	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal"
)

// A sourceID names where a box's temperature comes from: its own probe, or, for a
// box without one, the median of its zone's believed probes.
type sourceID struct{ probe, zone string }

func (s sourceID) String() string {
	if s.probe != "" {
		return "probe " + s.probe
	}
	return "zone " + s.zone
}

// felt reckons a source's samples from the readings of its probes, one reading
// at a time in the order of their times. The live station and a rebuild from
// the history both use it, so that they cannot differ.
type felt struct {
	probes []string
	fresh  time.Duration
	last   []thermal.Sample // the last of each probe
	buf    []float64

	company []company // of each probe
	present []float64 // scratch of judge
}

func newFelt(probes []string, fresh time.Duration) *felt {
	f := &felt{probes: probes, fresh: fresh, last: make([]thermal.Sample, len(probes)), buf: make([]float64, 0, len(probes))}
	f.company, f.present = make([]company, len(probes)), make([]float64, len(probes))
	for i := range f.last {
		f.last[i].Celsius = math.NaN()
	}
	return f
}

// see takes a believed, corrected temperature of one of the probes.
func (f *felt) see(probe string, s thermal.Sample) bool {
	for i, p := range f.probes {
		if p == probe {
			f.last[i] = s
			return true
		}
	}
	return false
}

// at is the median of the probes that are fresh at t and do not disagree, and how
// far they lie apart; NaN when there is none, or for the distance only one.
func (f *felt) at(t time.Time) (middle, spread float64) {
	f.buf = f.buf[:0]
	for i, s := range f.last {
		if !math.IsNaN(s.Celsius) && t.Sub(s.At) <= f.fresh && !f.company[i].odd {
			f.buf = append(f.buf, s.Celsius)
		}
	}
	if len(f.buf) == 0 {
		return math.NaN(), math.NaN()
	}
	if len(f.buf) == 1 {
		return f.buf[0], math.NaN()
	}
	slices.Sort(f.buf)
	return median(f.buf), f.buf[len(f.buf)-1] - f.buf[0]
}

// median of sorted, non-empty values.
func median(sorted []float64) float64 {
	n := len(sorted)
	if n%2 == 1 {
		return sorted[n/2]
	}
	return (sorted[n/2-1] + sorted[n/2]) / 2
}

// moment is a sample, and how far the probes behind it lay apart.
type moment struct {
	thermal.Sample
	apart float64
}

// samples gives the source's samples of the past from one time to another.
func (r reckoner) samples(s sourceID, from, to time.Time) iter.Seq2[thermal.Sample, error] {
	return func(yield func(thermal.Sample, error) bool) {
		for m, err := range r.moments(s, from, to) {
			if !yield(m.Sample, err) {
				return
			}
		}
	}
}

// moments gives the samples likewise. Readings that share an instant make one. An error
// stands where readings are missing; those after it follow.
func (r reckoner) moments(s sourceID, from, to time.Time) iter.Seq2[moment, error] {
	probes := r.probesOf(s)
	return func(yield func(moment, error) bool) {
		f := newFelt(probes, r.fresh)
		var pending time.Time
		emit := func() bool {
			if pending.IsZero() {
				return true
			}
			f.judge(pending)
			c, apart := f.at(pending)
			return yield(moment{thermal.Sample{At: pending, Celsius: c}, apart}, nil)
		}
		for p, err := range merged(r.past, probes, from, to) {
			if err != nil {
				if !yield(moment{thermal.Sample{Celsius: math.NaN()}, math.NaN()}, err) {
					return
				}
				continue
			}
			if !p.Believed() || math.IsNaN(p.Celsius) {
				continue
			}
			if p.At.After(pending) {
				if !emit() {
					return
				}
				pending = p.At
			}
			f.see(p.Probe, thermal.Sample{At: p.At, Celsius: r.celsius(p.Probe, p.At, p.Celsius)})
		}
		emit()
	}
}

// merged gives the points of several probes in the order of their times. An error of one
// of them stands where its next point would; the points after it follow.
func merged(past Past, probes []string, from, to time.Time) iter.Seq2[history.Point, error] {
	if len(probes) == 1 {
		return past.Range(probes[0], from, to)
	}
	return func(yield func(history.Point, error) bool) {
		type head struct {
			next func() (history.Point, error, bool)
			p    history.Point
			ok   bool
		}
		heads := make([]head, len(probes))
		for i, name := range probes {
			next, stop := iter.Pull2(past.Range(name, from, to))
			defer stop()
			heads[i].next = next
		}
		advance := func(h *head) bool {
			for {
				var err error
				if h.p, err, h.ok = h.next(); err == nil || !h.ok {
					return true
				}
				if !yield(history.Point{}, err) {
					return false
				}
			}
		}
		for i := range heads {
			if !advance(&heads[i]) {
				return
			}
		}
		for {
			first := -1
			for i, h := range heads {
				if h.ok && (first < 0 || h.p.At.Before(heads[first].p.At)) {
					first = i
				}
			}
			if first < 0 {
				return
			}
			if !yield(heads[first].p, nil) || !advance(&heads[first]) {
				return
			}
		}
	}
}
