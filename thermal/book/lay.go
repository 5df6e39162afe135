package book

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Lay says when a dam may lay next.
type Lay struct {
	From, Likely, By time.Time
	Look             time.Time // look into the lay box daily from here on
	Because          string
	Last             Laid          // her last clutch; zero when it is counted from a pairing
	Paired           time.Time     // her last pairing; zero when none is noted
	Interval         time.Duration // the median of her own; zero when she has none
	Intervals        int           // her own
}

const (
	day24 = 24 * time.Hour
	// From a pairing to the first clutch, and from clutch to clutch, 25 to 45
	// days; the first about 30 (common practice, crested gecko). Between
	// clutches the middle, 35, is ours.
	soonest, first, middle, latest = 25 * day24, 30 * day24, 35 * day24, 45 * day24
	// The last 3 to 7 days are those to look daily (common practice); an early
	// look harms nothing.
	lookBefore = 7 * day24
	// Clutches further apart than this are of two seasons: two gaps at their
	// longest, so that one missed clutch is not a season's end. Ours.
	seasonsApart = 2 * latest
	// As many gaps of her own make a range of their own. Ours.
	ownGaps = 3
)

// NextLay forecasts a dam's next clutch at a time: from her last pairing or, once
// she has laid since, from her own intervals, which are those between clutches
// that name her alone. It is false when there is nothing to go by: no pairing
// or clutch in the last season, or she is rested or retired.
func (b Book) NextLay(dam string, now time.Time) (Lay, bool) {
	f, ok := b.Dam(dam)
	laid, paired, begun := b.begun(f)
	if !ok || b.Resting(dam) || begun.IsZero() || now.Sub(begun) > seasonsApart {
		return Lay{}, false
	}
	var l Lay
	gaps := ownIntervals(laid)
	n := len(gaps)
	if n > 0 {
		l.Interval, l.Intervals = median(gaps), n
	}
	l.Paired = paired
	if k := len(laid); k > 0 && laid[k-1].By.After(paired) {
		l.Last = laid[k-1]
	}
	switch {
	case l.Last.By.IsZero():
		return l.from(Laid{paired, paired}, soonest, first, latest, "from her last pairing, by common practice"), true
	case n == 0:
		return l.from(l.Last, soonest, middle, latest, "from her last clutch, by common practice"), true
	case n < ownGaps:
		return l.from(l.Last, min(soonest, gaps[0]), median(gaps), max(latest, gaps[n-1]),
			fmt.Sprintf("from her last clutch and %s of her own, not sooner or later than common practice and these", intervals(n))), true
	default:
		return l.from(l.Last, gaps[0], median(gaps), gaps[n-1],
			fmt.Sprintf("from her last clutch and %s of her own", intervals(n))), true
	}
}

// Resting reports whether a dam is retired, or was rested since she was last
// paired or laid.
func (b Book) Resting(dam string) bool {
	f, ok := b.Dam(dam)
	if !ok || !f.Retired.IsZero() {
		return ok
	}
	_, _, begun := b.begun(f)
	return len(f.Rested) > 0 && f.Rested[len(f.Rested)-1].After(begun)
}

// begun is when a dam laid the clutches that name her alone, when she was last
// paired, and the later of the two.
func (b Book) begun(f Female) (laid []Laid, paired, last time.Time) {
	for _, id := range f.Clutches {
		if c, _ := b.Clutch(id); len(c.Dams) == 1 {
			laid = append(laid, c.Laid)
		}
	}
	for _, p := range f.Pairings {
		paired = later(paired, p.At)
	}
	if n := len(laid); n > 0 {
		return laid, paired, later(paired, laid[n-1].By)
	}
	return laid, paired, paired
}

// LastLook is the last time before a given one that a dam's lay box was known to
// hold no new eggs: a look at hers, or at one of no dam in particular, without
// eggs, or her last clutch taken out. The next clutch was laid after it.
func (b Book) LastLook(dam string, before time.Time) (time.Time, bool) {
	f, ok := b.Dam(dam)
	if !ok {
		return time.Time{}, false
	}
	var last time.Time
	for _, l := range slices.Concat(f.Looks, b.Looks()) {
		if l.At.Before(before) && !l.Found.Eggs() {
			last = later(last, l.At)
		}
	}
	for _, id := range f.Clutches {
		if c, _ := b.Clutch(id); c.Laid.By.Before(before) {
			last = later(last, c.Laid.By)
		}
	}
	return last, !last.IsZero()
}

func intervals(n int) string {
	if n == 1 {
		return "1 interval"
	}
	return itoa(n) + " intervals"
}

// from counts from an interval: the earliest from its beginning, the latest from
// its end.
func (l Lay) from(begun Laid, least, likely, most time.Duration, because string) Lay {
	l.From, l.Likely, l.By, l.Because = begun.After.Add(least), begun.middle().Add(likely), begun.By.Add(most), because
	l.Look = l.From.Add(-lookBefore)
	return l
}

func (l Laid) middle() time.Time { return l.After.Add(l.By.Sub(l.After) / 2) }

// ownIntervals are those between clutches of one season, shortest first.
func ownIntervals(laid []Laid) []time.Duration {
	var gaps []time.Duration
	for i := 1; i < len(laid); i++ {
		if g := laid[i].middle().Sub(laid[i-1].middle()); g > 0 && g <= seasonsApart {
			gaps = append(gaps, g)
		}
	}
	slices.Sort(gaps)
	return gaps
}

// median is of sorted durations.
func median(d []time.Duration) time.Duration {
	n := len(d)
	return d[(n-1)/2] + time.Duration(math.Round(float64(d[n/2]-d[(n-1)/2])/2))
}
