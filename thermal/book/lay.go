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
	if !ok || !f.Retired.IsZero() {
		return Lay{}, false
	}
	var laid []Laid
	for _, id := range f.Clutches {
		if c, _ := b.Clutch(id); len(c.Dams) == 1 {
			laid = append(laid, c.Laid)
		}
	}
	var paired time.Time
	for _, p := range f.Pairings {
		paired = later(paired, p.At)
	}
	var last Laid
	if len(laid) > 0 {
		last = laid[len(laid)-1]
	}
	begun := later(paired, last.By)
	rested := len(f.Rested) > 0 && f.Rested[len(f.Rested)-1].After(begun)
	if begun.IsZero() || rested || now.Sub(begun) > seasonsApart {
		return Lay{}, false
	}
	if !last.By.After(paired) {
		return lay(Laid{paired, paired}, soonest, first, latest, "from her last pairing, by common practice"), true
	}
	gaps := ownIntervals(laid)
	switch n := len(gaps); {
	case n == 0:
		return lay(last, soonest, middle, latest, "from her last clutch, by common practice"), true
	case n < ownGaps:
		return lay(last, min(soonest, gaps[0]), median(gaps), max(latest, gaps[n-1]),
			fmt.Sprintf("from her last clutch and %s of her own, not sooner or later than common practice and these", intervals(n))), true
	default:
		return lay(last, gaps[0], median(gaps), gaps[n-1],
			fmt.Sprintf("from her last clutch and %s of her own", intervals(n))), true
	}
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

// lay counts from an interval: the earliest from its beginning, the latest from
// its end.
func lay(from Laid, least, likely, most time.Duration, because string) Lay {
	l := Lay{From: from.After.Add(least), Likely: from.middle().Add(likely), By: from.By.Add(most), Because: because}
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
