package zone

import (
	"math"
	"time"
)

// spreadMemory is the time over which the mean spread of a zone's probes is taken (our
// choice).
const spreadMemory = 24 * time.Hour

// MeanSpread is how far apart a zone's probes are on average over about a day. The zero
// MeanSpread has seen none.
type MeanSpread struct {
	Kelvin float64
	At     time.Time // of the last spread; zero: there was none
}

// Known reports whether the zone ever had two probes to compare.
func (m *MeanSpread) Known() bool { return !m.At.IsZero() }

// Add takes the spread of one more value. A spread that is NaN, or older than the last,
// changes nothing.
func (m *MeanSpread) Add(v Value) {
	switch {
	case math.IsNaN(v.Spread) || v.At.Before(m.At):
		return
	case !m.Known():
		*m = MeanSpread{v.Spread, v.At}
		return
	}
	w := min(1, float64(v.At.Sub(m.At))/float64(spreadMemory))
	m.Kelvin, m.At = m.Kelvin+w*(v.Spread-m.Kelvin), v.At
}

// Shift moves the time of the last spread. The station calls it when it learns when its
// boot really began.
func (m *MeanSpread) Shift(by time.Duration) { m.At = shifted(m.At, by) }
