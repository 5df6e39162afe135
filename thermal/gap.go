package thermal

import "math"

// The temperature in a gap is assumed to have run straight from one side to the
// other, and to have stayed within a margin beyond its two sides: 0.5 K for the
// first hour, growing with the root of the time, 3 K at most. The margin is our
// choice.
const (
	gapMarginOneHour = 0.5 // K
	maxGapMargin     = 3.0 // K
)

// bridge is the assumption about one gap: its days, the temperature at its ends and
// the bounds of the temperature in it.
type bridge struct {
	days             float64
	before, after    float64
	coldest, hottest float64
}

func bridgeOf(g Gap, otherwise float64) (bridge, bool) {
	b := bridge{days: float64(g.length().Milliseconds()) / dayMillis, before: g.Before, after: g.After}
	margin := g.Margin
	if margin == 0 {
		margin = math.Min(maxGapMargin, gapMarginOneHour*math.Sqrt(b.days*24))
	}
	if math.IsNaN(b.before) {
		b.before = b.after
	}
	if math.IsNaN(b.after) {
		b.after = b.before
	}
	if math.IsNaN(b.after) {
		if math.IsNaN(otherwise) {
			return bridge{}, false
		}
		b.before, b.after = otherwise, otherwise
		margin = math.Max(g.Margin, maxGapMargin)
	}
	b.coldest = math.Min(b.before, b.after) - margin
	b.hottest = math.Max(b.before, b.after) + margin
	return b, true
}

// Bridged is the development with the gaps filled in: each by the trapezoid between
// its two sides, or by the one side that is known, or by the mean of the measured
// time where neither is. Low and high are the development if every gap was at its
// lower or its upper bound: the colder side less the margin, the warmer side plus
// the margin. The margin is the gap's own, or else 0.5 K times the root of its
// hours, 3 K at most (our choice). An exposure without any known temperature has
// no development.
func (x Exposure) Bridged(r Rate) (share, low, high float64) {
	share = x.Share(r)
	low, high = share, share
	if len(x.gaps) == 0 {
		return share, low, high
	}
	mean := x.Mean()
	for _, g := range x.gaps {
		b, ok := bridgeOf(g, mean)
		if !ok {
			continue
		}
		mid := (r.PerDay(b.before) + r.PerDay(b.after)) / 2
		share += b.days * mid
		low += b.days * math.Min(mid, r.PerDay(b.coldest))
		high += b.days * math.Max(mid, r.PerDay(b.hottest))
	}
	return share, low, high
}
