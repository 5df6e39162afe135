package pastreadings

import (
	"iter"
	"time"

	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal/track"
)

// values gives a source's temperatures of the past from one time to another. Readings of
// one instant make one value. An error stands where readings are missing; the values after
// it follow.
func (r Reader) values(s track.Source, from, to time.Time) iter.Seq2[zone.Value, error] {
	probes := r.Probes(s)
	corrections := make([]calibration.Periods, len(probes))
	for i, name := range probes {
		corrections[i] = r.correct.Of(name)
	}
	return zone.Values(probes, r.Fresh, r.apart[s.Zone], func(yield func(zone.Timed, error) bool) {
		for v, err := range r.mergedValues(probes, from, to) {
			var x zone.Timed
			if err == nil {
				at := time.UnixMilli(v.UnixMilli).UTC()
				x = zone.Timed{At: at, Sample: zone.Sample{
					Probe: probes[v.probe], Celsius: corrections[v.probe].At(at).Temperature.At(v.Celsius) + r.warmer,
				}}
			}
			if !yield(x, err) {
				return
			}
		}
	})
}

// probeValue is a believed reading, and which of some probes gave it.
type probeValue struct {
	history.Value
	probe int
}

// mergedValues gives the believed readings of several probes in the order of their times. An
// error of one of them stands where its next reading would; the readings after it follow.
func (r Reader) mergedValues(probes []string, from, to time.Time) iter.Seq2[probeValue, error] {
	return func(yield func(probeValue, error) bool) {
		heads := make([]valueHead, len(probes))
		for i, name := range probes {
			next, stop := iter.Pull2(r.blocksOfValues(name, from, to))
			defer stop()
			heads[i].next = next
			if !heads[i].fill(yield) {
				return
			}
		}
		for {
			first := -1
			for i := range heads {
				if len(heads[i].values) > 0 && (first < 0 || heads[i].values[0].UnixMilli < heads[first].values[0].UnixMilli) {
					first = i
				}
			}
			if first < 0 {
				return
			}
			h := &heads[first]
			if !yield(probeValue{h.values[0], first}, nil) {
				return
			}
			h.values = h.values[1:]
			if !h.fill(yield) {
				return
			}
		}
	}
}

// valueHead is what is left of a probe's block of readings.
type valueHead struct {
	next   func() ([]history.Value, error, bool)
	values []history.Value
}

// fill takes the next block where none is left, and yields the errors before it. It is false
// when no more is wanted.
func (h *valueHead) fill(yield func(probeValue, error) bool) bool {
	for len(h.values) == 0 {
		values, err, ok := h.next()
		if !ok {
			return true
		}
		if err != nil && !yield(probeValue{}, err) {
			return false
		}
		h.values = values
	}
	return true
}

// blocksOfValues gives the believed readings of a probe, a block at a time where the history
// can.
func (r Reader) blocksOfValues(probe string, from, to time.Time) iter.Seq2[[]history.Value, error] {
	type byBlocks interface {
		Values(probe string, from, to time.Time) iter.Seq2[[]history.Value, error]
	}
	if h, ok := r.history.(byBlocks); ok {
		return h.Values(probe, from, to)
	}
	return func(yield func([]history.Value, error) bool) {
		for p, err := range r.history.Range(probe, from, to) {
			if err == nil && !measured(p) {
				continue
			}
			var one []history.Value
			if err == nil {
				one = []history.Value{{UnixMilli: p.At.UnixMilli(), Celsius: p.Celsius, Humidity: p.Humidity}}
			}
			if !yield(one, err) {
				return
			}
		}
	}
}
