package history

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"time"

	"example.com/ootherm/sensor/history/column"
	"example.com/ootherm/sensor/history/stored"
	"example.com/ootherm/thermal"
)

// Summary is what a block of readings comes to. It stays when the readings
// themselves are trimmed. Temperatures are raw Celsius, as the part gave them.
type Summary struct {
	Probe    string
	From, To time.Time // of the first and the last reading, believed or not

	// First and Last are the first and last believed samples; without one their
	// times are zero and their temperatures NaN.
	First, Last thermal.Sample

	Exposure    thermal.Exposure // between First and Last
	Missing     time.Duration    // of that, in gaps
	Least, Most float64          // believed; NaN without one
	Readings    int
	Believed    int
}

// sum is a summary in uptime, so that dating the boot again moves it too.
type sum struct {
	from, to       int64 // milliseconds of uptime
	readings, held uint64
	first, last    mark
	least, most    float64
	cells          thermal.Exposure // the measured time; no gaps
	gaps           []gap
}

// mark is a believed temperature at an uptime in milliseconds.
type mark struct {
	up      int64
	celsius float64
}

type gap struct{ before, after mark }

func (r row) believed() bool { return r.cause == "" && !math.IsNaN(r.celsius) }

// sample places a mark in time.
func (m mark) sample(start time.Time) thermal.Sample {
	return thermal.Sample{At: start.Add(time.Duration(m.up) * time.Millisecond), Celsius: m.celsius}
}

// summarise computes the summary of rows, which are not empty. Believed samples
// farther apart than limit leave a gap.
func summarise(rows []row, limit time.Duration) *sum {
	s := &sum{from: rows[0].up, to: rows[len(rows)-1].up, readings: uint64(len(rows)), least: math.NaN(), most: math.NaN()}
	for _, r := range rows {
		if !r.believed() {
			continue
		}
		m := mark{r.up, r.celsius}
		if s.held == 0 {
			s.first, s.least, s.most = m, r.celsius, r.celsius
		} else {
			s.join(s.last, m, limit)
			s.least, s.most = min(s.least, r.celsius), max(s.most, r.celsius)
		}
		s.last = m
		s.held++
	}
	return s
}

func (s *sum) join(a, b mark, limit time.Duration) {
	if time.Duration(b.up-a.up)*time.Millisecond > limit {
		s.gaps = append(s.gaps, gap{a, b})
		return
	}
	s.cells.Add(a.sample(time.UnixMilli(0)), b.sample(time.UnixMilli(0)))
}

// follow is s and then t of the same block, where the readings of s are no more.
func (s *sum) follow(t *sum, limit time.Duration) *sum {
	out := *s
	out.to, out.readings, out.held = t.to, s.readings+t.readings, s.held+t.held
	out.gaps = append([]gap(nil), s.gaps...)
	switch {
	case t.held == 0:
		return &out
	case s.held == 0:
		out.first, out.least, out.most = t.first, t.least, t.most
	default:
		out.join(s.last, t.first, limit)
		out.least, out.most = min(s.least, t.least), max(s.most, t.most)
	}
	out.last = t.last
	out.cells = out.cells.Plus(t.cells)
	out.gaps = append(out.gaps, t.gaps...)
	return &out
}

// exposure is the summary's exposure in a boot that began at start.
func (s *sum) exposure(start time.Time) thermal.Exposure {
	x := s.cells
	for _, g := range s.gaps {
		a, b := g.before.sample(start), g.after.sample(start)
		x = x.Gap(thermal.Gap{From: a.At, To: b.At, Before: a.Celsius, After: b.Celsius})
	}
	return x
}

func (s *sum) dated(probe string, start time.Time) Summary {
	out := Summary{
		Probe: probe,
		From:  mark{up: s.from}.sample(start).At, To: mark{up: s.to}.sample(start).At,
		First: thermal.Sample{Celsius: math.NaN()}, Last: thermal.Sample{Celsius: math.NaN()},
		Exposure: s.exposure(start),
		Least:    s.least, Most: s.most,
		Readings: int(s.readings), Believed: int(s.held),
	}
	out.Missing = out.Exposure.Missing()
	if s.held > 0 {
		out.First, out.Last = s.first.sample(start), s.last.sample(start)
	}
	return out
}

const summaryVersion = 1

func (s *sum) encode() ([]byte, error) {
	b := []byte{summaryVersion}
	for _, x := range [...]int64{s.from, s.to} {
		b = binary.AppendUvarint(b, uint64(x))
	}
	b = binary.AppendUvarint(b, s.readings)
	b = binary.AppendUvarint(b, s.held)
	b = s.first.encode(b)
	b = s.last.encode(b)
	b = column.AppendFloat(b, s.least)
	b = column.AppendFloat(b, s.most)
	b = binary.AppendUvarint(b, uint64(len(s.gaps)))
	for _, g := range s.gaps {
		b = g.after.encode(g.before.encode(b))
	}
	b, err := s.cells.AppendBinary(b)
	if err != nil {
		return nil, fmt.Errorf("encode a summary: %w", err)
	}
	return stored.Seal(b, 0), nil
}

func (m mark) encode(b []byte) []byte {
	return column.AppendFloat(binary.AppendUvarint(b, uint64(m.up)), m.celsius)
}

func readMark(r *column.Reader) mark { return mark{int64(r.Uvarint()), r.Float()} }

func decodeSum(b []byte) (*sum, error) {
	body, err := stored.Unseal(b)
	if err != nil {
		return nil, err
	}
	r := column.Reader{B: body}
	if v := r.Byte(); r.Err == nil && v != summaryVersion {
		return nil, fmt.Errorf("summary version %d is unknown", v)
	}
	s := &sum{from: int64(r.Uvarint()), to: int64(r.Uvarint())}
	s.readings, s.held = r.Uvarint(), r.Uvarint()
	s.first, s.last = readMark(&r), readMark(&r)
	s.least, s.most = r.Float(), r.Float()
	n := r.Uvarint()
	if r.Err != nil || s.from < 0 || s.to < s.from || n > uint64(len(r.B)) {
		return nil, errors.New("a summary's fields make no sense")
	}
	for range n {
		s.gaps = append(s.gaps, gap{readMark(&r), readMark(&r)})
	}
	if r.Err != nil {
		return nil, r.Err
	}
	if err := s.cells.UnmarshalBinary(r.B); err != nil {
		return nil, err
	}
	return s, nil
}
