package alert

import (
	"math"
	"time"
)

// Drift foretells that a value will pass a limit, well before it does. It learns
// what the value does by itself: its course over the day, how far it wanders in
// half an hour up to a day, at which hours it wanders more, how low it has been,
// and the cycle of a thermostat, over which it averages. It calls when a change is
// more than the zone's own wandering ever was, or takes the value where it never
// was, and going on it would pass the limit within hours.
//
// The thresholds are our own, chosen on the recordings under testdata/rooms; the
// table of TestDrift shows what they are worth there. Its memory is 6 kB, of
// two weeks. After a restart feed it the readings of the past days. Drift expects
// temperatures in Celsius.
type Drift struct {
	limit Limit
	sign  float64 // values are kept so that the limit is a low one

	slot  int64 // the bin being filled
	sum   float64
	n     int
	first int64 // the first bin ever
	last  int64 // the last bin closed
	begun bool
	ring  [driftRing]float64 // means of the bins, NaN where nothing was known

	course  [daySlots]mean // mean change in a half hour, by half hour of the day
	spans   [len(driftSpans)]spread
	smooth  [len(cycles)]mean // how much is left of the value's swing under each average
	window  int               // bins to average over, for the thermostat's cycle
	lows    [driftDays]float64
	days    int // lows ever kept
	day     int64
	lowest  float64 // of the day being filled
	hour    int64
	records [24][len(driftSpans)]float64 // highest scores of the last 24 h, by hour

	call   Projection
	active bool
	until  int64 // the bin in which the call ends
}

// Projection is when a value will pass a limit.
type Projection struct {
	At       time.Time // when it is reached, as things are
	Earliest time.Time // aimed at 80 % between the two; on testdata/rooms it was 69-76 %
	Latest   time.Time // zero: perhaps not at all within DriftHorizon
	Limit    float64   // the unit of the value, as PerHour's
	PerHour  float64   // change now
}

// DriftHorizon is how far ahead [Drift] looks.
const DriftHorizon = 8 * time.Hour

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
)

// What makes a drift.
const (
	unusual  = 3.0              // a change so many times its spread is no wandering
	below    = 0.5              // as much, where the value never was
	newLow   = 0.1              // K below everything seen: there
	floor    = 0.1              // K; no spread is smaller
	fading   = 3.0              // hours in which an excess change dies away
	reach    = 3                // a change over a span is projected over so many spans
	forget   = 30.0             // days in which a record fades
	learning = 2 * perHour      // changes over a span before its spread counts
	fewLows  = 7 * perHour / 2  // bins before "everything seen" means something
	recent   = 3 * perHour      // bins that are not yet "seen", lest a drift hide itself
	keepOn   = 2 * perHour      // bins that a call outlasts its cause, lest it chatter
	leastFor = 10 * time.Minute // a shorter lead is not worth a call
	tail80   = 1.2816           // of the normal distribution, two-sided
)

// How it learns.
const (
	wild     = 4.0   // a change counts for at most so many spreads
	prior    = 200.0 // changes that an eighth of the day must outweigh to differ
	weekly   = 1.0 / (7 * perDay)
	partly   = 1.0 / (10 * partBins) // ten days of an eighth
	daily    = 1.0 / perDay
	courseBy = 0.25 // weight of the newest day in the day's course
	cycleMin = 0.1  // K rms; a swing smaller is not looked at
	cycleCut = 5.0  // an average that leaves a fifth of its square found the cycle
)

// driftSpans are the spans over which change is measured, in bins: 30 min to a day.
var driftSpans = [...]int{6, 12, 24, 36, 72, 144, 288}

// cycles are the averages tried against a thermostat's cycle, in bins.
var cycles = [...]int{1, 2, 3, 4, 5, 6, 8, 10, 12}

// spread is how far the value wanders over one span, around the day's course.
type spread struct {
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

// NewDrift watches one limit.
func NewDrift(l Limit) *Drift {
	d := &Drift{limit: l, sign: 1, slot: -1, window: 1}
	if l.High {
		d.sign = -1
	}
	for i := range d.ring {
		d.ring[i] = math.NaN()
	}
	d.lowest = math.Inf(1)
	return d
}

// Projection is what is foretold, and whether anything is.
func (d *Drift) Projection() (Projection, bool) {
	if !d.active {
		return Projection{}, false
	}
	return d.call, true
}

// Observe takes one value, or its absence, and reports whether a drift is called.
// A call outlasts its cause by two hours, and ends where the band alarm begins.
func (d *Drift) Observe(now time.Time, v float64, known bool) bool {
	b := now.Unix() / binSeconds
	if d.active && b >= d.until {
		d.active = false
	}
	if !known || math.IsNaN(v) || math.IsInf(v, 0) {
		return d.active
	}
	if d.limit.Beyond(v) {
		d.active = false
	}
	if d.begun && b < d.last { // the clock was set back: what was learned stays
		*d = d.anew()
	}
	if b != d.slot {
		if d.n > 0 {
			d.close(d.slot, d.sum/float64(d.n))
		}
		sparse := d.slot >= 0 && b-d.slot > 1
		d.slot, d.sum, d.n = b, 0, 0
		if sparse && !d.limit.Beyond(v) { // the next may be long in coming
			d.close(b, d.sign*v)
			return d.active
		}
	}
	d.sum += d.sign * v
	d.n++
	return d.active
}

// anew is the drift with its learning and without its readings.
func (d *Drift) anew() Drift {
	f := *NewDrift(d.limit)
	f.course, f.spans, f.smooth, f.window, f.lows, f.days = d.course, d.spans, d.smooth, d.window, d.lows, d.days
	return f
}

// close takes the mean of a bin, and decides.
func (d *Drift) close(b int64, v float64) {
	switch {
	case !d.begun:
		d.begun, d.first, d.last, d.hour, d.day = true, b, b-1, b/perHour, b/perDay
	case b <= d.last:
		return
	}
	for i := max(d.last+1, b-driftRing+1); i < b; i++ {
		d.ring[i%driftRing] = math.NaN()
	}
	d.last = b
	d.ring[b%driftRing] = v
	d.turn(b)
	low, call := d.low(b), Projection{}
	for k, span := range driftSpans {
		if p, ok := d.look(b, k, span, low); ok {
			call = call.and(p)
		}
	}
	d.learn(b)
	if !call.At.IsZero() {
		d.call, d.active, d.until = call, true, b+keepOn
	}
}

// look weighs the change over one span, learns from it, and projects it when it
// is worth that.
func (d *Drift) look(b int64, k, span int, low float64) (Projection, bool) {
	width := max(1, min(6, span/4), d.window)
	now, then := d.over(b, width), d.over(b-int64(span), max(3, width))
	if math.IsNaN(now) || math.IsNaN(then) {
		return Projection{}, false
	}
	s := &d.spans[k]
	excess := now - then - d.expected(b-int64(span), span)
	part := &s.parts[b/partBins%8]
	sd := max(floor, math.Sqrt((part.v*part.n+prior*s.all.v)/(part.n+prior)))
	score, known := -excess/sd, s.all.n > learning
	needed := max(unusual, s.record)
	if known {
		here := &d.records[d.hour%24][k]
		*here = max(*here, score)
	}
	if now < low-newLow {
		needed = below
		if !known {
			sd, known = floor, true
			score = -excess / sd
		}
	}
	square := math.Pow(max(-wild*sd, min(wild*sd, excess)), 2)
	if s.all.n < 3*perHour {
		square = excess * excess
	}
	s.all.add(square, weekly)
	part.add(square, partly)
	if !known || score <= needed {
		return Projection{}, false
	}
	return d.project(b, now, excess, sd, span)
}

// project lets the excess die away as a room's does, on top of what the day still
// takes, and finds when the limit is passed.
func (d *Drift) project(b int64, now, excess, sd float64, span int) (Projection, bool) {
	at := d.sign * d.limit.At
	hours := float64(span) / perHour
	steep := (excess - tail80*sd) / hours
	if mid := d.over(b-int64(span/2), 2); !math.IsNaN(mid) { // it may have begun within the span
		steep = min(steep, (d.over(b, 1)-mid-tail80*sd)/(hours/2))
	}
	var p Projection
	fall := 0.0 // what the day's course takes from now on; never what it gives
	for h := 1; h <= int(DriftHorizon/(binSeconds*time.Second)); h++ {
		fall += d.course[(b+int64(h))/slotBins%daySlots].v / slotBins
		ahead := float64(h) / perHour
		more := fading / hours * (1 - math.Exp(-ahead/fading))
		when := binTime(b + int64(h))
		passes := func(e float64) bool { return now+min(0, fall)+e*more <= at }
		straight := now + min(0, fall) + steep*ahead
		if p.Earliest.IsZero() && straight <= at {
			p.Earliest = when
		}
		if h <= reach*span && p.At.IsZero() && passes(excess) {
			p.At = when
		}
		if p.Latest.IsZero() && passes(excess+tail80*sd) {
			p.Latest = when
		}
	}
	if p.At.IsZero() || p.At.Sub(binTime(b)) < leastFor {
		return Projection{}, false
	}
	p.Limit, p.PerHour = d.limit.At, d.sign*(excess/hours)
	return p, true
}

// and joins what two spans foretell: the sooner, and the widest bounds.
func (p Projection) and(q Projection) Projection {
	if p.At.IsZero() {
		return q
	}
	if q.At.Before(p.At) {
		p.At, p.PerHour = q.At, q.PerHour
	}
	if q.Earliest.Before(p.Earliest) {
		p.Earliest = q.Earliest
	}
	if p.Latest.IsZero() || q.Latest.IsZero() {
		p.Latest = time.Time{}
	} else if q.Latest.After(p.Latest) {
		p.Latest = q.Latest
	}
	return p
}

// binTime is the end of a bin.
func binTime(b int64) time.Time { return time.Unix((b+1)*binSeconds, 0).UTC() }
