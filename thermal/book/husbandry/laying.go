package husbandry

import (
	"fmt"
	"math"
	"slices"
	"time"

	"example.com/ootherm/thermal/book"
)

// Laying is when a dam may lay next.
type Laying struct {
	From, Likely, By time.Time
	Look             time.Time // look into the lay box daily from here on
	Because          string
	Last             book.Laid     // her last clutch; zero when it is counted from a pairing
	Paired           time.Time     // her last pairing; zero when none is noted
	Interval         time.Duration // the median of her own; zero when she has none
	Intervals        int           // her own
}

const (
	day = 24 * time.Hour
	// From a pairing to the first clutch, and from clutch to clutch: 25 to 45 days;
	// to the first about 30 (common practice, crested gecko). Between clutches the
	// middle, 35, is our choice.
	minInterval      = 25 * day
	pairingToClutch  = 30 * day
	clutchToClutch   = 35 * day
	maxInterval      = 45 * day
	dailyLooksBefore = 7 * day // the last 3 to 7 days are those to look daily (common practice); an early look does no harm
	// Clutches further apart than this are of two seasons: two intervals at their
	// longest, so that one missed clutch does not end a season. Our choice.
	maxSeasonGap = 2 * maxInterval
	// A dam with so many intervals of her own has a range of her own. Our choice.
	minOwnIntervals = 3
)

// NextLaying forecasts a dam's next clutch at a time: from her last pairing or, once
// she has laid since, from her own intervals, which are those between clutches
// that name her alone. It is false when no pairing or clutch in the last season is
// known, and when she is rested or retired.
func NextLaying(b book.Book, dam string, now time.Time) (Laying, bool) {
	d, ok := b.Dam(dam)
	laid, paired, begun := breeding(b, d)
	if !ok || Resting(b, dam) || begun.IsZero() || now.Sub(begun) > maxSeasonGap {
		return Laying{}, false
	}
	l := Laying{Paired: paired}
	own := intervals(laid)
	n := len(own)
	if n > 0 {
		l.Interval, l.Intervals = median(own), n
	}
	if k := len(laid); k > 0 && laid[k-1].By.After(paired) {
		l.Last = laid[k-1]
	}
	switch {
	case l.Last.By.IsZero():
		l.Because = "from her last pairing, by common practice"
		return l.counted(book.Laid{After: paired, By: paired}, minInterval, pairingToClutch, maxInterval), true
	case n == 0:
		l.Because = "from her last clutch, by common practice"
		return l.counted(l.Last, minInterval, clutchToClutch, maxInterval), true
	case n < minOwnIntervals:
		l.Because = fmt.Sprintf("from her last clutch and %s of her own, not sooner or later than common practice and these", countIntervals(n))
		return l.counted(l.Last, min(minInterval, own[0]), median(own), max(maxInterval, own[n-1])), true
	default:
		l.Because = fmt.Sprintf("from her last clutch and %s of her own", countIntervals(n))
		return l.counted(l.Last, own[0], median(own), own[n-1]), true
	}
}

// counted counts from the interval of the last clutch or pairing: the earliest from
// its beginning, the latest from its end.
func (l Laying) counted(last book.Laid, least, likely, most time.Duration) Laying {
	l.From, l.Likely, l.By = last.After.Add(least), middle(last).Add(likely), last.By.Add(most)
	l.Look = l.From.Add(-dailyLooksBefore)
	return l
}

// Resting reports whether a dam is retired, or was rested since she was last
// paired or laid.
func Resting(b book.Book, dam string) bool {
	d, ok := b.Dam(dam)
	if !ok || !d.Retired.IsZero() {
		return ok
	}
	_, _, begun := breeding(b, d)
	return len(d.Rested) > 0 && d.Rested[len(d.Rested)-1].After(begun)
}

// breeding is when a dam laid the clutches that name her alone, when she was last
// paired, and the later of the two.
func breeding(b book.Book, d book.Dam) (laid []book.Laid, paired, last time.Time) {
	for _, id := range d.Clutches {
		if c, _ := b.Clutch(id); len(c.Dams) == 1 {
			laid = append(laid, c.Laid)
		}
	}
	for _, p := range d.Pairings {
		paired = later(paired, p.At)
	}
	if n := len(laid); n > 0 {
		return laid, paired, later(paired, laid[n-1].By)
	}
	return laid, paired, paired
}

// LastEmptyLook is the last time before a given one at which a dam's lay box was
// known to hold no new eggs: a look without eggs at hers or at one that names no
// dam, or her last clutch taken out. The next clutch was laid after it.
func LastEmptyLook(b book.Book, dam string, before time.Time) (time.Time, bool) {
	d, ok := b.Dam(dam)
	if !ok {
		return time.Time{}, false
	}
	var last time.Time
	for _, l := range slices.Concat(d.Looks, b.Looks()) {
		if l.At.Before(before) && !l.Found.Eggs() {
			last = later(last, l.At)
		}
	}
	for _, id := range d.Clutches {
		if c, _ := b.Clutch(id); c.Laid.By.Before(before) {
			last = later(last, c.Laid.By)
		}
	}
	return last, !last.IsZero()
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func countIntervals(n int) string {
	if n == 1 {
		return "1 interval"
	}
	return fmt.Sprintf("%d intervals", n)
}

func middle(l book.Laid) time.Time { return l.After.Add(l.By.Sub(l.After) / 2) }

// intervals are those between clutches of one season, shortest first.
func intervals(laid []book.Laid) []time.Duration {
	var all []time.Duration
	for i := 1; i < len(laid); i++ {
		if d := middle(laid[i]).Sub(middle(laid[i-1])); d > 0 && d <= maxSeasonGap {
			all = append(all, d)
		}
	}
	slices.Sort(all)
	return all
}

// median is the median of sorted durations.
func median(d []time.Duration) time.Duration {
	n := len(d)
	return d[(n-1)/2] + time.Duration(math.Round(float64(d[n/2]-d[(n-1)/2])/2))
}
