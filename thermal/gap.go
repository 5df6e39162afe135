package thermal

import "math"

// The temperature in a gap is taken to have run straight from one side to the
// other, and to have stayed within a margin beyond its two sides: 0.5 K for the
// first hour, growing with the root of the time, 3 K at most. The margin is our
// assumption.
const (
	gapMarginHour = 0.5 // K
	gapMarginMost = 3.0 // K
)

// bridge is what is assumed of one gap: its days, the temperature at its ends
// and the bounds it may have kept within.
type bridge struct {
	days             float64
	before, after    float64
	coldest, hottest float64
}

func bridgeOf(g Gap, otherwise float64) (bridge, bool) {
	b := bridge{days: float64(g.length().Milliseconds()) / dayMillis, before: g.Before, after: g.After}
	margin := g.Margin
	if margin == 0 {
		margin = math.Min(gapMarginMost, gapMarginHour*math.Sqrt(b.days*24))
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
		margin = math.Max(g.Margin, gapMarginMost)
	}
	b.coldest = math.Min(b.before, b.after) - margin
	b.hottest = math.Max(b.before, b.after) + margin
	return b, true
}

// Bridged is the development done with the gaps filled in: each by the
// trapezoid between its two sides, or by the one side that is known, or by the
// mean of the measured time where neither is. Low and high are the share had
// every gap kept to its lower and to its upper bound: the colder side less, the
// warmer side plus its own margin, or else 0.5 K times the root of its hours,
// 3 K at most (an assumption). An exposure that knows no temperature at all has no share.
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
