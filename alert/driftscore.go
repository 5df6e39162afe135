package alert

import (
	"math"
	"time"
)

// change is how the value changed over one span.
type change struct {
	now    float64 // K, averaged over a thermostat's cycle
	excess float64 // K, beyond the day's course
	score  float64 // how many spreads, the day's course given half an hour either way
	sd     float64 // K
	needed float64 // of score, to be a drift
	known  bool    // the spread was learned
}

// usualDay is the day's course summed up: how far the value goes from midnight to
// the end of each half hour, and in the whole day.
type usualDay struct {
	to    [daySlots + 1]float64
	slots *[daySlots]mean
	clock *localClock
}

func (d *Drift) usualDay() usualDay {
	u := usualDay{slots: &d.course, clock: &d.clock}
	for i, s := range d.course {
		u.to[i+1] = u.to[i] + s.v
	}
	return u
}

// upTo is how far the value usually goes from the epoch to the end of a bin.
func (u *usualDay) upTo(b int64) float64 {
	b = u.clock.bin(b)
	slot := b / slotBins % daySlots
	return float64(b/perDay)*u.to[daySlots] + u.to[slot] + u.slots[slot].v*float64(b%slotBins+1)/slotBins
}

// in is what the day's course changes in so many bins after one.
func (u *usualDay) in(b int64, bins int) float64 { return u.upTo(b+int64(bins)) - u.upTo(b) }

// score weighs the change over one span. The sun may be early or late: of the
// day's course half an hour before and after, what explains most counts.
func (d *Drift) score(b int64, k, span int, low float64, day *usualDay) (change, bool) {
	width := max(1, min(6, span/4), d.window)
	now, then := d.mean(b, width), d.mean(b-int64(span), max(3, width))
	if math.IsNaN(now) || math.IsNaN(then) {
		return change{}, false
	}
	peak := then
	if span >= longSpan { // a door that was open for a moment is no level
		then = min(then, max(orElse(d.mean(b-int64(span)-perHour, 3), then), orElse(d.mean(b-int64(span)+perHour, 3), then)))
	}
	s := &d.spans[k]
	part := &s.parts[d.clock.bin(b)/partBins%8]
	from := b - int64(span)
	c := change{
		now: now, excess: now - peak - day.in(from, span), known: s.all.n > minChanges, needed: max(unusualScore, s.record),
		sd: max(minResidualKelvin, math.Sqrt((part.v*part.n+priorChanges*s.all.v)/(part.n+priorChanges))),
	}
	if now < low {
		c.needed = unseenScore
		if !c.known {
			c.sd, c.known = minResidualKelvin, true
		}
	}
	most := max(now-then-day.in(from, span), now-then-day.in(from-slotBins, span), now-then-day.in(from+slotBins, span))
	if (b <= d.returns || from >= d.awayFrom && from <= d.awayTo+slotBins || d.failure.failed[from%driftRing]) && peak > d.usualAt(from) { // the way back is no drift
		most = max(most, now-d.usualAt(b)-d.levels.tolerance()/2)
	}
	if past, ok := d.beyondExpected(b, from, then, now); ok {
		most = max(most, past)
	}
	c.score = -min(0, most) / c.sd
	if !c.known {
		c.needed = math.Inf(1)
	}
	return c, true
}

// orElse is a value, or another where the first is not known.
func orElse(v, other float64) float64 {
	if math.IsNaN(v) {
		return other
	}
	return v
}

// learn takes a change into the spread, at a local bin.
func (s *residual) learn(b int64, c change) {
	square := c.excess * c.excess
	if s.all.n >= 3*perHour {
		square = min(square, outlierResiduals*outlierResiduals*c.sd*c.sd)
	}
	s.all.add(square, weeklyWeight)
	s.parts[b/partBins%8].add(square, partWeight)
}

// project lets the excess die away as a room's does, on top of what the day still
// takes, and finds when a limit is passed; nothing when that is not within
// reach.
func (d *Drift) project(b int64, span int, limit Limit, c change, day *usualDay) Projection {
	at := d.sign * limit.At
	hours := float64(span) / perHour
	rate := -c.score * c.sd / hours // K an hour, over the whole span
	noise := normalQuantile90 * c.sd
	steep, lately := rate-noise/hours, rate
	// It may have begun within the span: then it goes faster now.
	if half := (d.mean(b, 1) - d.mean(b-int64(span/2), 2)) / (hours / 2); half < rate {
		steep = min(steep, half-noise/(hours/2))
		more := (rate - half) * hours
		lately = rate - (rate-half)*more*more/(more*more+c.sd*c.sd)
	}
	swing := math.Sqrt(2 * d.smooth[0].v) // what passes the limit is not the average
	var p Projection
	reached := int64(0) // the bin in which the limit is passed, as things are over the whole span
	each, dies, until := math.Exp(-1.0/perHour/fadingHours), 1.0, day.upTo(b)
	for h := int64(1); h <= int64(DriftHorizon/(binSeconds*time.Second)); h++ {
		left := at - c.now - min(0, day.upTo(b+h)-until) // what the day's course takes counts; never what it gives
		dies *= each
		fades := fadingHours * (1 - dies)
		if p.Earliest.IsZero() && steep*float64(h)/perHour <= left+swing {
			p.Earliest = binEnd(b + h)
		}
		if reached == 0 && rate*fades <= left {
			reached = h
		}
		if p.At.IsZero() && lately*fades <= left {
			p.At = binEnd(b + h)
		}
		if (rate+latestRatio*noise/hours)*fades <= left {
			p.Latest = binEnd(b + h)
			break // it is the last of them
		}
	}
	if reached == 0 || reached > int64(maxReachSpans*span) || time.Duration(reached)*binSeconds*time.Second < minDriftLead {
		return Projection{}
	}
	p.Limit, p.PerHour = limit.At, d.sign*rate
	return p
}
