package alert

import (
	"math"
	"time"
)

// Drift foretells that a value will pass a limit, well before it does. It watches one or two
// limits of one end, as that of a wanted band and that of a safe one: a value past the first
// is still watched for the second. It learns
// what the value does by itself: its level and its course over the day, how far it wanders in
// half an hour up to a day, at which hours it wanders more, how low it has been,
// and the cycle of a thermostat, over which it averages. It calls when a change is
// more than the zone's own wandering ever was, or takes the value where it never
// was, and going on it would pass the limit within hours; when it looks so twice
// running, or once where the value is more than half way from all it ever was to
// the limit; and while the value does not come back. What returns from the other side, as a
// room whose heater is mended or whose window is shut, counts only from where it usually is
// at that hour. What a failure taught is forgotten when it is over.
//
// The thresholds are our own. Package backtest shows what they are worth: they
// were chosen on the recordings under testdata/rooms, leaving out each in turn, and
// on made-up zones. Its memory is 11 kB, of two weeks. After a restart feed it the
// readings of the past days. Drift expects temperatures in Celsius.
type Drift struct {
	clock  localClock
	sign   float64 // values are kept so that the limits are low ones
	calls  [maxDriftLimits]driftCall
	limits int
	near   int64 // the last bin that looked like a drift
	turn   expected

	fillingBin
	binRing
	habits
	hourRecords
	departure
	failure failure
}

// maxDriftLimits is how many limits a drift watches.
const maxDriftLimits = 2

// fillingBin sums the readings of the newest bin.
type fillingBin struct {
	slot  int64
	sum   float64
	n     int
	usual int // readings that a bin got, lately
}

// binRing holds the means of the bins of 26 hours.
type binRing struct {
	first int64 // the first bin ever
	last  int64 // the last bin closed
	begun bool
	ring  [driftRing]float64 // NaN where nothing was known
}

// habits are what the value does by itself. They outlast a clock that is set back.
type habits struct {
	taught
	smooth [len(cycles)]mean // how much is left of the value's swing under each average
	window int               // bins to average over, for the thermostat's cycle
	levels levels
}

// taught is what one failure would change.
type taught struct {
	course [daySlots]mean // mean change in a half hour, by half hour of the day
	spans  [len(driftSpans)]residual
	lows   [driftDays]float64
	days   int    // lows ever kept
	today  dayLow // without its newest hours
}

// hourRecords holds what was highest and lowest in each of the last hours.
type hourRecords struct {
	hour    int64
	hourly  [driftHours]float64          // lowest values
	records [24][len(driftSpans)]float64 // highest scores of the last 24 h, by hour
}

// dayLow is the lowest value of a local day.
type dayLow struct {
	day    int64
	lowest float64
}

// Sizes of what is kept.
const (
	binSeconds = 300
	perHour    = 3600 / binSeconds // bins
	perDay     = 24 * perHour
	driftRing  = 26 * perHour
	daySlots   = 48
	slotBins   = perDay / daySlots
	partBins   = perDay / 8
	driftDays  = 14
	driftHours = driftRing / perHour
)

// What makes a drift.
const (
	unusualScore      = 2.5              // a change so many times its spread is no wandering
	unseenScore       = 0.5              // as much, where the value never was
	deepRatio         = 0.5              // of the way from everything seen to the limit: there one look is enough
	minResidualKelvin = 0.1              // K; no spread is smaller
	fadingHours       = 3.0              // hours in which an excess change dies away
	longSpan          = 3 * perHour      // bins; before so long an hour's peak is no level
	maxReachSpans     = 3                // a change over a span is projected over so many spans
	recordDays        = 30.0             // days in which a record fades
	minChanges        = 2 * perHour      // changes over a span before its spread counts
	minLowBins        = 7 * perHour / 2  // bins before "everything seen" means something
	recentBins        = 3 * perHour      // bins that are not yet "seen", lest a drift hide itself
	recentHours       = 4                // the same in hours begun
	holdBins          = 2 * perHour      // bins that a call outlasts its cause, lest it chatter
	holdPolls         = 4                // the same in polls where they are far apart
	maxHoldBins       = 4 * perHour      // bins; a hole is no poll
	returningKelvin   = 0.01             // K; a value that came back so far is on its way back
	minDriftLead      = 10 * time.Minute // a shorter lead is not worth a call
	normalQuantile90  = 1.2816           // of the normal distribution, two-sided
	leastLevels       = 12               // half hours before it is known how far a value is from the usual by itself
	awayKelvin        = 0.5              // K past the usual on the other side, at least; from there it comes back
	jumpKelvin        = 1.0              // K within ten minutes, as by a window that is opened
	usualHighRank     = 3                // which of the days' highest values of a week is usual
	farAwayKelvin     = 2.0              // K past the usual at any hour; from there it comes back however slowly it got there
	farOffKelvin      = 1.5              // the same; from there what it teaches is forgotten
	soonReturnBins    = 3 * perHour      // bins that the way back takes, at most
	returnBins        = 12 * perHour     // the same from far away
	backKelvin        = 0.3              // K short of the usual, at most; there it is back
	settledBins       = 6 * perHour      // bins inside the limit without a call after which it has another level
	latestRatio       = 1.3              // what slows down or turns does so by more than chance
)

// How it learns.
const (
	outlierResiduals = 4.0   // a change counts for at most so many residuals
	priorChanges     = 200.0 // changes that an eighth of the day must outweigh to differ
	weeklyWeight     = 1.0 / (7 * perDay)
	partWeight       = 1.0 / (10 * partBins) // ten days of an eighth
	dailyWeight      = 1.0 / perDay
	courseWeight     = 0.25 // weight of the newest day in the day's course
	minCycleKelvin   = 0.1  // K rms; a swing smaller is not looked at
	cycleReduction   = 5.0  // an average that leaves a fifth of its square found the cycle
	// A shorter average will do that leaves twice the square of the best, and this.
	cycleTolerance  = 2.0
	cycleRestKelvin = 0.03 // K rms
)

// driftSpans are the spans over which change is measured, in bins: 30 min to a day.
var driftSpans = [...]int{6, 12, 24, 36, 72, 144, 288}

// cycles are the averages tried against a thermostat's cycle, in bins.
var cycles = [...]int{1, 2, 3, 4, 5, 6, 8, 10, 12}

// residual is how far the value wanders over one span, around the day's course.
type residual struct {
	all    mean
	parts  [8]mean // by eighth of the day
	record float64 // the highest score it ever had by itself, fading
}

// mean is a running mean that forgets.
type mean struct{ v, n float64 }

func (m *mean) add(x, least float64) {
	m.n++
	m.v += max(1/m.n, least) * (x - m.v)
}

// NewDrift watches limits of one end, the nearest first: one or two. It learns the course of
// the day by the clock of a place.
func NewDrift(place *time.Location, limits ...Limit) *Drift {
	d := &Drift{clock: localClock{place: place}, sign: 1}
	d.slot, d.window, d.today.lowest = -1, 1, math.Inf(1)
	if limits[0].High {
		d.sign = -1
	}
	for i := range d.ring {
		d.ring[i] = math.NaN()
	}
	for i := range d.hourly {
		d.hourly[i] = math.Inf(1)
	}
	d.Watch(limits...)
	return d
}

// Observe takes one value, or its absence, and reports whether a drift is called.
// A call outlasts its cause by two hours, or four polls where they are far apart,
// and ends where the band alarm begins.
func (d *Drift) Observe(now time.Time, v float64, known bool) bool {
	b := now.Unix() / binSeconds
	d.expireCalls(b)
	if !known || math.IsNaN(v) || math.IsInf(v, 0) {
		return d.Calls()
	}
	d.endReached(b, v)
	if d.begun && b < d.last { // the clock was set back: what was learned stays
		*d = d.restarted()
	}
	if b != d.slot {
		if d.n > 0 {
			d.close(d.slot, d.sum/float64(d.n))
			d.usual = d.n
		}
		sparse := d.slot >= 0 && b-d.slot > 1
		d.slot, d.sum, d.n = b, 0, 0
		if sparse && !d.pastAll(v) { // the next may be long in coming
			d.close(b, d.sign*v)
			return d.Calls()
		}
	}
	d.sum += d.sign * v
	d.n++
	switch {
	case d.n == d.usual: // as full as it gets
		d.close(b, d.sum/float64(d.n))
	case d.near == d.last && 2*d.n == d.usual && d.begun:
		d.peek(b, d.sum/float64(d.n))
	}
	return d.Calls()
}

// restarted is the drift with its learning and without its readings.
func (d *Drift) restarted() Drift {
	limits := make([]Limit, d.limits)
	for i := range limits {
		limits[i] = d.calls[i].limit
	}
	f := *NewDrift(d.clock.place, limits...)
	if d.failure.side != 0 {
		d.taught = d.failure.before
	}
	d.today = dayLow{lowest: math.Inf(1)}
	f.habits = d.habits
	return f
}

// close takes the mean of a bin, learns, and decides. What looks like a drift must
// have looked like one in the bin before: a door that is opened does not.
func (d *Drift) close(b int64, v float64) {
	switch {
	case !d.begun:
		d.begun, d.first, d.last, d.hour, d.today.day, d.near = true, b, b-1, b/perHour, d.clock.bin(b)/perDay, b-2
	case b <= d.last:
		return
	}
	for i := max(d.last+1, b-driftRing+1); i < b; i++ {
		d.ring[i%driftRing], d.failure.failed[i%driftRing] = math.NaN(), d.failure.side != 0
	}
	before := d.last
	again := d.near == before
	d.last = b
	d.ring[b%driftRing] = v
	d.expireRecords(b)
	d.failure.follow(d, b)
	low, day := d.lowestSeen(b), d.usualDay()
	var found [maxDriftLimits]Projection
	for k, span := range driftSpans {
		c, ok := d.score(b, k, span, low, &day)
		if !ok {
			continue
		}
		if d.failure.teaches(b, span) {
			if here := &d.records[d.hour%24][k]; c.known {
				*here = max(*here, c.score)
			}
			d.spans[k].learn(d.clock.bin(b), c)
		}
		if c.score > c.needed {
			d.near = b
			d.projectAll(&found, b, span, c, &day, func(at float64) bool { return again || c.now < low-deepRatio*(low-at) })
		}
	}
	d.learn(b)
	d.raise(b, before, found)
	d.endFall(b)
}

// peek looks at a bin that is half full, when the one before it looked like a
// drift.
func (d *Drift) peek(b int64, v float64) {
	if b != d.last+1 {
		return
	}
	was := d.ring[b%driftRing]
	d.last, d.ring[b%driftRing] = b, v
	low, day := d.lowestSeen(b), d.usualDay()
	var found [maxDriftLimits]Projection
	for k, span := range driftSpans {
		if c, ok := d.score(b, k, span, low, &day); ok && c.score > c.needed {
			d.projectAll(&found, b, span, c, &day, func(float64) bool { return true })
		}
	}
	d.raise(b, b-1, found)
	d.last, d.ring[b%driftRing] = b-1, was
}

// binEnd is the end of a bin.
func binEnd(b int64) time.Time { return time.Unix((b+1)*binSeconds, 0).UTC() }
