package pastreadings

import (
	"iter"
	"time"

	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal/track"
)

// values gives a source's temperatures of the past from one time to another. Readings of
// one instant make one value. An error stands where readings are missing; the values after
// it follow.
func (r Reader) values(s track.Source, from, to time.Time) iter.Seq2[zone.Value, error] {
	probes := r.Probes(s)
	return zone.Values(probes, r.Fresh, func(yield func(zone.Timed, error) bool) {
		for p, err := range merged(r.history, probes, from, to) {
			if err == nil && !measured(p) {
				continue
			}
			var x zone.Timed
			if err == nil {
				x = zone.Timed{At: p.At, Sample: zone.Sample{Probe: p.Probe, Celsius: r.celsius(p.Probe, p.At, p.Celsius)}}
			}
			if !yield(x, err) {
				return
			}
		}
	})
}

// merged gives the points of several probes in the order of their times. An error of one
// of them stands where its next point would; the points after it follow.
func merged(past History, probes []string, from, to time.Time) iter.Seq2[history.Point, error] {
	if len(probes) == 1 {
		return past.Range(probes[0], from, to)
	}
	return func(yield func(history.Point, error) bool) {
		var m merge
		defer m.stop()
		for _, name := range probes {
			if !m.add(past.Range(name, from, to), yield) {
				return
			}
		}
		for h := m.earliest(); h != nil; h = m.earliest() {
			if !yield(h.point, nil) || !h.advance(yield) {
				return
			}
		}
	}
}

// merge is the next points of several probes.
type merge struct {
	heads []*head
	stops []func()
}

// head is the next point of one probe.
type head struct {
	next  func() (history.Point, error, bool)
	point history.Point
	ok    bool
}

// add takes the points of one more probe. It is false when no more is wanted.
func (m *merge) add(points iter.Seq2[history.Point, error], yield func(history.Point, error) bool) bool {
	next, stop := iter.Pull2(points)
	h := &head{next: next}
	m.heads, m.stops = append(m.heads, h), append(m.stops, stop)
	return h.advance(yield)
}

// stop ends the reads of all probes.
func (m *merge) stop() {
	for _, stop := range m.stops {
		stop()
	}
}

// earliest is the head whose point is the first; nil when all have ended.
func (m *merge) earliest() (first *head) {
	for _, h := range m.heads {
		if h.ok && (first == nil || h.point.At.Before(first.point.At)) {
			first = h
		}
	}
	return first
}

// advance takes the next point, and yields the errors before it. It is false when no more
// is wanted.
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
