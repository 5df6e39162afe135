// Package ratelimit decides when a recipient gets which of the messages that are due: the rate,
// the quiet hours, and what goes as one. It is pure. It must not know a sender, a store or how a
// message is worded.
package ratelimit

import (
	"cmp"
	"slices"
	"time"

	"example.com/ootherm/alert"
)

// MaxMessagesPerHour is how many messages a recipient gets in an hour, unless a [Limit]
// says otherwise. ISA-18.2 calls ten alarms in ten minutes a flood; a breeder is
// no operator at a desk, and six is our own choice.
const MaxMessagesPerHour = 6

// MinDigestInterval is how long after the last message a critical one goes where the hour
// is full, with all that waits, once in the hour. It is as long as a band's on-delay
// usually is (our choice).
const MinDigestInterval = 10 * time.Minute

// Limit is how often a recipient is spoken to. What does not fit goes into one
// message, a digest; nothing is left out. What is not critical never fills the hour:
// its last place is kept for what is, and where there is but one there is a second
// for that. Where even that is spent, one digest with what is critical does not wait
// for the hour: see [MinDigestInterval].
type Limit struct {
	PerHour int            // messages in any hour; 0 is MaxMessagesPerHour
	Quiet   Hours          // all but critical messages wait for its end
	Where   *time.Location // of the quiet hours; nil is UTC
}

// Hours is a part of the day, from a time after midnight to another, over midnight
// when that is the earlier one. None when they are equal.
type Hours struct{ From, To time.Duration }

// left is how long the hours last from now on; 0 outside them.
func (h Hours) left(now time.Time) time.Duration {
	hour, minute, second := now.Clock()
	at := time.Duration(hour)*time.Hour + time.Duration(minute)*time.Minute + time.Duration(second)*time.Second
	y, m, d := now.Date()
	switch {
	case h.From < h.To && at >= h.From && at < h.To, h.From > h.To && at < h.To:
	case h.From > h.To && at >= h.From:
		d++
	default:
		return 0
	}
	// By the clock on the wall, also in the night that it is put forward or back.
	end := time.Date(y, m, d, int(h.To/time.Hour), int(h.To%time.Hour/time.Minute), int(h.To%time.Minute/time.Second), 0, now.Location())
	return max(end.Sub(now), time.Second)
}

// Next chooses from the messages that are due what to send now: one message, or
// several that go as a digest. Sent is when messages went out, of the last hour at
// least. Where nothing is to be sent it gives the time until something may be, or
// 0 when nothing waits. Critical messages come first. What an outage held up goes
// as one, and so do messages about zones that are due together. With a message goes what
// waits of the same episode, quiet hours or not: it is outdated by it.
func (p Limit) Next(now time.Time, due []alert.Message, sent []time.Time) ([]alert.Message, time.Duration) {
	batch, ready, wait := p.choose(now, due, sent)
	if len(batch) == 0 {
		return nil, wait
	}
	batch = slices.Clone(batch)
	add := func(from []alert.Message, fits func(alert.Message) bool) {
		for _, m := range from {
			if fits(m) && !slices.ContainsFunc(batch, func(x alert.Message) bool { return x.ID == m.ID }) {
				batch = append(batch, m)
			}
		}
	}
	fresh := func(m alert.Message) bool { return m.Attempts == 0 && m.OfZone() }
	if len(batch) == 1 && fresh(batch[0]) {
		add(ready, fresh)
	}
	add(due, func(m alert.Message) bool {
		return m.OfZone() && slices.ContainsFunc(batch, func(x alert.Message) bool { return x.Episode() == m.Episode() })
	})
	return batch, 0
}

// choose gives what goes now, and of what is due all that may go at this hour.
func (p Limit) choose(now time.Time, due []alert.Message, sent []time.Time) (batch, ready []alert.Message, wait time.Duration) {
	where := p.Where
	if where == nil {
		where = time.UTC
	}
	quiet := p.Quiet.left(now.In(where))
	for _, m := range due {
		if quiet == 0 || m.Priority == alert.Critical || m.PassesSafeBefore(now.Add(quiet)) {
			ready = append(ready, m)
		}
	}
	if len(ready) == 0 {
		if len(due) == 0 {
			return nil, nil, 0
		}
		return nil, nil, quiet
	}
	slices.SortStableFunc(ready, alert.CompareUrgency)
	recent := slices.DeleteFunc(slices.Clone(sent), func(t time.Time) bool { return now.Sub(t) >= time.Hour || t.After(now) })
	slices.SortFunc(recent, time.Time.Compare)
	places := max(cmp.Or(p.PerHour, MaxMessagesPerHour), 2) - len(recent)
	kept := 1 // of the places, for what is critical
	if ready[0].IsUrgent() {
		kept = 0
	}
	if stuck := slices.DeleteFunc(slices.Clone(ready), func(m alert.Message) bool { return !m.Stuck(now) }); places > kept && len(stuck) > 1 && ready[0].Stuck(now) {
		return stuck, ready, 0
	}
	switch {
	case places > kept && len(ready) <= places-kept:
		return ready[:1], ready, 0
	case places > kept+1 && ready[0].IsUrgent():
		return ready[:1], ready, 0
	case places > kept:
		return ready, ready, 0
	}
	// The place that has to get free: the oldest, or with one kept the one after it.
	wait = time.Hour - now.Sub(recent[min(kept-places, len(recent)-1)])
	if ready[0].IsUrgent() {
		soonest := MinDigestInterval - now.Sub(recent[len(recent)-1])
		if over := len(recent) - cmp.Or(p.PerHour, MaxMessagesPerHour); over > 0 { // this hour's digest is spent
			soonest = max(soonest, time.Hour-now.Sub(recent[over-1]))
		}
		if soonest <= 0 {
			return ready, ready, 0
		}
		wait = min(wait, soonest)
	}
	return nil, ready, wait
}
