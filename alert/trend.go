package alert

import (
	"math"
	"slices"
	"time"
)

// Trend is how fast a value changes, over the last hour: the median of the slopes
// between all pairs of two-minute means (Theil 1950; Sen 1968, J Am Stat Assoc
// 63:1379). Up to 29 % of the means may be wild without moving it far (Sen 1968). While the
// last ten minutes contradict it, as after a window was shut, there is no trend.
// The zero value is ready; its size is fixed.
type Trend struct {
	bins [trendBins]bin
	n    int // bins in use, oldest first
	rate float64
	has  bool
	due  bool // rate and has are computed when somebody asks, not at each value
	last bin  // the newest bin as it was when they were due: the rate is that of that moment
}

const (
	trendBin  = 2 * time.Minute
	trendSpan = time.Hour
	trendBins = int(trendSpan/trendBin) + 1
	// Fewer means, or closer together, say nothing of an hour.
	trendFewest   = 3
	trendShortest = 20 * time.Minute
	// What the last ten minutes say of the direction counts where four in five of the pairs of
	// their means, or of the last three where they are further apart, go against the hour. By
	// chance that is rare: Kendall's test, 7 % of the time for six means (our choice).
	trendLatest        = 10 * time.Minute
	contradictingShare = 0.8
)

type bin struct {
	slot int64 // number of the bin since the epoch
	n    int
	at   float64 // sum of seconds past the slot's start
	v    float64 // sum of values
}

func (b bin) seconds() float64 {
	return float64(b.slot)*trendBin.Seconds() + b.at/float64(b.n)
}

// Observe takes one value, or its absence. A value older than the last starts the
// trend again.
func (t *Trend) Observe(now time.Time, v float64, known bool) {
	slot := now.UnixNano() / int64(trendBin)
	keep := 0
	for keep < t.n && slot-t.bins[keep].slot >= int64(trendBins) {
		keep++
	}
	if keep > 0 {
		copy(t.bins[:], t.bins[keep:t.n])
		t.n -= keep
		t.mark()
	}
	if !known || math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	into := time.Duration(now.UnixNano() - slot*int64(trendBin)).Seconds()
	switch {
	case t.n > 0 && slot < t.bins[t.n-1].slot: // the clock was set back
		t.n = 0
	case t.n > 0 && slot == t.bins[t.n-1].slot:
		b := &t.bins[t.n-1]
		b.n, b.at, b.v = b.n+1, b.at+into, b.v+v
		return // a fuller bin is no reason to compute again
	}
	t.bins[t.n] = bin{slot: slot, n: 1, at: into, v: v}
	t.n++
	t.mark()
}

// mark notes that the rate is due, by the bins as they are now.
func (t *Trend) mark() {
	t.due = true
	if t.n > 0 {
		t.last = t.bins[t.n-1]
	}
}

// PerHour is the change in an hour, in the unit of the value; NaN while fewer
// than three means over 20 minutes are known, or the last ten minutes contradict it.
func (t *Trend) PerHour() float64 {
	if t.due {
		t.computeRate()
	}
	if !t.has {
		return math.NaN()
	}
	return t.rate
}

// recentSpan is how far back [Trend.RecentPerHour] looks (our choice).
const recentSpan = 10 * time.Minute

// RecentPerHour is the change over the last ten minutes as a change in an hour, in the unit of
// the value; NaN where that is not known, or the newest value is older than that.
func (t *Trend) RecentPerHour(now time.Time) float64 {
	if t.n < 2 {
		return math.NaN()
	}
	last := t.bins[t.n-1]
	if now.Unix()-int64(last.seconds()) > int64(recentSpan.Seconds()) {
		return math.NaN()
	}
	for i := t.n - 2; i >= 0; i-- {
		b := t.bins[i]
		if span := last.seconds() - b.seconds(); span >= (recentSpan - trendBin).Seconds() {
			return (last.v/float64(last.n) - b.v/float64(b.n)) / span * time.Hour.Seconds()
		}
	}
	return math.NaN()
}

// Rebound is how far the newest value lies above the lowest and below the highest of the last
// ten minutes, in the unit of the value; NaN where that is not known.
func (t *Trend) Rebound(now time.Time) (above, below float64) {
	if math.IsNaN(t.RecentPerHour(now)) {
		return math.NaN(), math.NaN()
	}
	last := t.bins[t.n-1]
	v := last.v / float64(last.n)
	for i := t.n - 2; i >= 0 && last.slot-t.bins[i].slot <= int64(recentSpan/trendBin); i-- {
		x := t.bins[i].v / float64(t.bins[i].n)
		above, below = max(above, v-x), max(below, x-v)
	}
	return above, below
}

func (t *Trend) computeRate() {
	t.has, t.due = false, false
	if t.n < trendFewest || t.bins[t.n-1].slot-t.bins[0].slot < int64(trendShortest/trendBin) {
		return
	}
	newest := t.bins[t.n-1]
	t.bins[t.n-1] = t.last
	var buf [trendPairs]float64
	t.rate = median(t.slopes(buf[:0])) * time.Hour.Seconds()
	t.has = !t.contradicted(t.rate)
	t.bins[t.n-1] = newest
}

// contradicted reports whether the last ten minutes go against a rate.
func (t *Trend) contradicted(rate float64) bool {
	first := t.n - 1
	for first > 0 && (t.n-first < trendFewest || t.bins[t.n-1].slot-t.bins[first-1].slot <= int64(trendLatest/trendBin)) {
		first--
	}
	against, pairs := 0, 0
	for i := first; i < t.n; i++ {
		for j := i + 1; j < t.n; j++ {
			pairs++
			if b, c := t.bins[i], t.bins[j]; (c.v/float64(c.n)-b.v/float64(b.n))*rate < 0 {
				against++
			}
		}
	}
	return float64(against) >= contradictingShare*float64(pairs)
}

// trendPairs is how many slopes there are at most.
const trendPairs = trendBins * (trendBins - 1) / 2

// slopes are those between all pairs of means, a second.
func (t *Trend) slopes(slopes []float64) []float64 {
	var seconds, means [trendBins]float64
	for i, b := range t.bins[:t.n] {
		seconds[i], means[i] = b.seconds(), b.v/float64(b.n)
	}
	for i := range t.n {
		for j := i + 1; j < t.n; j++ {
			slopes = append(slopes, (means[j]-means[i])/(seconds[j]-seconds[i]))
		}
	}
	return slopes
}

// median is the middle value; it changes the order of v, which is not empty and holds numbers
// alone.
func median(v []float64) float64 {
	m := len(v) / 2
	upper := nth(v, m)
	if len(v)%2 == 1 {
		return upper
	}
	return (slices.Max(v[:m]) + upper) / 2
}

// nth is the value that would be at a place if v were sorted. It leaves no greater value before
// that place (Hoare 1961, Commun ACM 4:321): sorting all would take several times as long.
func nth(v []float64, place int) float64 {
	for low, high := 0, len(v)-1; low < high; {
		pivot := v[place]
		i, j := low, high
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for pivot < v[j] {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i, j = i+1, j-1
			}
		}
		if j < place {
			low = i
		}
		if place < i {
			high = j
		}
	}
	return v[place]
}
