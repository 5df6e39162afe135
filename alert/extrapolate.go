package alert

import (
	"math"
	"slices"
	"time"
)

// slopeSDs is how many standard deviations of the slope a trend is believed to be off
// at most: 1.28 would be 80 % of independent means (Sen 1968); two-minute means of
// a room are not independent, so twice that is taken. The steepest is at least
// that of a tenth of the slopes, since what has just begun is not yet in the rest.
// Both are our choice; TestReach prints what they are worth.
const (
	slopeSDs          = 2 * normalQuantile90
	steepestShare     = 10
	soonerFadingHours = 2.0 // hours in which a change dies away, for the latest time
)

// Extrapolate foretells when a value passes a limit, by the trend of the last hour. The
// change is taken to die away as a room's does that loses its heat, over three
// hours, as [Drift] takes it, over two for the latest time; the earliest is that of
// a straight line. It
// foretells nothing when the trend might as well be none, when the limit is
// passed, or when it is not reached within [DriftHorizon].
func (t *Trend) Extrapolate(now time.Time, v float64, l Limit) (Projection, bool) {
	if math.IsNaN(t.PerHour()) || math.IsNaN(v) || l.Beyond(v) {
		return Projection{}, false
	}
	var buf [trendPairs]float64
	slopes := t.slopes(buf[:0])
	slices.Sort(slopes)
	n := float64(t.n)
	off := int(math.Ceil(slopeSDs * math.Sqrt(n*(n-1)*(2*n+5)/18) / 2))
	middle := len(slopes) / 2
	shallow, steep := slopes[max(0, middle-off)], slopes[min(len(slopes)-1, middle+off)]
	if few := len(slopes) / steepestShare; l.High {
		steep = max(steep, slopes[len(slopes)-1-few])
	} else {
		shallow = min(shallow, slopes[few])
	}
	rate, gap := t.rate, l.At-v
	if !l.High {
		shallow, steep, rate, gap = -steep, -shallow, -rate, -gap
	}
	shallow, steep = shallow*time.Hour.Seconds(), steep*time.Hour.Seconds()
	if shallow <= 0 {
		return Projection{}, false
	}
	at, ok := fadeUntil(gap, rate, fadingHours)
	if !ok {
		return Projection{}, false
	}
	p := Projection{Limit: l.At, PerHour: t.rate, At: now.Add(at), Earliest: now.Add(hours(gap / steep))}
	if latest, ok := fadeUntil(gap, shallow, soonerFadingHours); ok {
		p.Latest = now.Add(latest)
	}
	return p, true
}

// fadeUntil is when a change that dies away over some hours has closed a gap; it may
// not get there within the horizon.
func fadeUntil(gap, perHour, over float64) (time.Duration, bool) {
	left := 1 - gap/(perHour*over)
	if left <= 0 {
		return 0, false
	}
	d := hours(-over * math.Log(left))
	return d, d <= DriftHorizon
}

func hours(h float64) time.Duration { return time.Duration(h * float64(time.Hour)) }
