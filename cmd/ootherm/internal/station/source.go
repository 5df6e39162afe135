package station

import (
	"iter"
	"math"
	"time"

	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/zone"
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

// samples gives the source's samples of the past from one time to another.
func (r historyReader) samples(s sourceID, from, to time.Time) iter.Seq2[thermal.Sample, error] {
	return func(yield func(thermal.Sample, error) bool) {
		for v, err := range r.values(s, from, to) {
			if !yield(thermal.Sample{At: v.At, Celsius: v.Celsius}, err) {
				return
			}
		}
	}
}

// values gives the source's temperatures of the past from one time to another. Readings
// of one instant make one value. An error stands where readings are missing; the values
// after it follow.
func (r historyReader) values(s sourceID, from, to time.Time) iter.Seq2[zone.Value, error] {
	probes := r.probesOf(s)
	return zone.Values(probes, r.fresh, func(yield func(zone.Timed, error) bool) {
		for p, err := range merged(r.past, probes, from, to) {
			switch {
			case err != nil:
				if !yield(zone.Timed{}, err) {
					return
				}
				continue
			case !p.Believed() || math.IsNaN(p.Celsius):
				continue
			}
			if !yield(zone.Timed{At: p.At, Sample: zone.Sample{Probe: p.Probe, Celsius: r.celsius(p.Probe, p.At, p.Celsius)}}, nil) {
				return
			}
		}
	})
}

// merged gives the points of several probes in the order of their times. An error of one
// of them stands where its next point would; the points after it follow.
func merged(past Past, probes []string, from, to time.Time) iter.Seq2[history.Point, error] {
	if len(probes) == 1 {
		return past.Range(probes[0], from, to)
	}
	return func(yield func(history.Point, error) bool) {
		heads := make([]*head, len(probes))
		for i, name := range probes {
			next, stop := iter.Pull2(past.Range(name, from, to))
			defer stop()
			if heads[i] = (&head{next: next}); !heads[i].advance(yield) {
				return
			}
		}
		for h := earliest(heads); h != nil; h = earliest(heads) {
			if !yield(h.point, nil) || !h.advance(yield) {
				return
			}
		}
	}
}

// head is the next point of one probe.
type head struct {
	next  func() (history.Point, error, bool)
	point history.Point
	ok    bool
}

// advance takes the next point, and yields the errors before it. It is false when no
// more is wanted.
func (h *head) advance(yield func(history.Point, error) bool) bool {
	for {
		var err error
		if h.point, err, h.ok = h.next(); err == nil || !h.ok {
			return true
		}
		if !yield(history.Point{}, err) {
			return false
		}
	}
}

// earliest is the head whose point is the first; nil when all have ended.
func earliest(heads []*head) (first *head) {
	for _, h := range heads {
		if h.ok && (first == nil || h.point.At.Before(first.point.At)) {
			first = h
		}
	}
	return first
}
