package alert

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// MaxMessagesPerHour is how many messages a recipient gets in an hour, unless a [RateLimit]
// says otherwise. ISA-18.2 calls ten alarms in ten minutes a flood; a breeder is
// no operator at a desk, and six is our own choice.
const MaxMessagesPerHour = 6

// MinDigestInterval is how long after the last message a critical one goes where the hour
// is full, with all that waits, once in the hour. It is as long as a band's on-delay
// usually is (our choice).
const MinDigestInterval = 10 * time.Minute

// RateLimit is how often a recipient is spoken to. What does not fit goes into one
// message, a digest; nothing is left out. What is not critical never fills the hour:
// its last place is kept for what is, and where there is but one there is a second
// for that. Where even that is spent, one digest with what is critical does not wait
// for the hour: see [MinDigestInterval].
type RateLimit struct {
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

// urgent reports whether a message has to get out now: the end of a critical alarm
// has time.
func urgent(m Message) bool { return m.Priority == Critical && !m.Over }

// Next chooses from the messages that are due what to send now: one message, or
// several that go as a digest. Sent is when messages went out, of the last hour at
// least. Where nothing is to be sent it gives the time until something may be, or
// 0 when nothing waits. Critical messages come first. What an outage held up goes
// as one.
func (p RateLimit) Next(now time.Time, due []Message, sent []time.Time) ([]Message, time.Duration) {
	where := p.Where
	if where == nil {
		where = time.UTC
	}
	quiet := p.Quiet.left(now.In(where))
	var ready []Message
	for _, m := range due {
		if quiet == 0 || m.Priority == Critical {
			ready = append(ready, m)
		}
	}
	if len(ready) == 0 {
		if len(due) == 0 {
			return nil, 0
		}
		return nil, quiet
	}
	slices.SortStableFunc(ready, compareUrgency)
	recent := slices.DeleteFunc(slices.Clone(sent), func(t time.Time) bool { return now.Sub(t) >= time.Hour || t.After(now) })
	slices.SortFunc(recent, time.Time.Compare)
	places := max(cmp.Or(p.PerHour, MaxMessagesPerHour), 2) - len(recent)
	kept := 1 // of the places, for what is critical
	if urgent(ready[0]) {
		kept = 0
	}
	if stuck := slices.DeleteFunc(slices.Clone(ready), func(m Message) bool { return !m.Stuck(now) }); places > kept && len(stuck) > 1 && ready[0].Stuck(now) {
		return stuck, 0
	}
	switch {
	case places > kept && len(ready) <= places-kept:
		return ready[:1], 0
	case places > kept+1 && urgent(ready[0]):
		return ready[:1], 0
	case places > kept:
		return ready, 0
	}
	// The place that has to get free: the oldest, or with one kept the one after it.
	wait := time.Hour - now.Sub(recent[min(kept-places, len(recent)-1)])
	if urgent(ready[0]) {
		soonest := MinDigestInterval - now.Sub(recent[len(recent)-1])
		if over := len(recent) - cmp.Or(p.PerHour, MaxMessagesPerHour); over > 0 { // this hour's digest is spent
			soonest = max(soonest, time.Hour-now.Sub(recent[over-1]))
		}
		if soonest <= 0 {
			return ready, 0
		}
		wait = min(wait, soonest)
	}
	return nil, wait
}

// compareUrgency orders by priority, within one by whether it has to get out now.
func compareUrgency(a, b Message) int {
	if urgent(a) != urgent(b) && a.Priority == b.Priority {
		if urgent(a) {
			return -1
		}
		return 1
	}
	return cmp.Compare(a.Priority.rank(), b.Priority.rank())
}

// whole is how many messages of a digest are told in full, and of the others the key
// fact alone: a person does not read a hundred (our choice).
const whole = 20

// Digest is several messages as one, the most urgent first. Its ID names the first
// and how many more. It is as old as the oldest, and tells of an end only when
// all do. Of several files the last goes with it: each is a later copy of the same.
func Digest(parts []Message) Message {
	m := parts[0]
	m.Over = !slices.ContainsFunc(parts, func(p Message) bool { return !p.Over })
	m.ID = fmt.Sprintf("%s+%d", m.ID, len(parts)-1)
	m.Alarm, m.Threads = "", threadsOf(parts)
	m.Subject = fmt.Sprintf("%s, and %d more", m.Subject, len(parts)-1)
	var b strings.Builder
	fmt.Fprintf(&b, "%d messages in one.\n", len(parts))
	for i, p := range parts {
		if i == whole {
			b.WriteString("\nAnd in short:\n")
		}
		if i < whole {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, "%s  %s\n", p.At.Format("2006-01-02 15:04"), p.Subject)
		if i < whole {
			fmt.Fprintf(&b, "%s\n", strings.TrimRight(p.Body, "\n"))
		}
		if p.At.Before(m.At) {
			m.At = p.At
		}
		if p.Attach != "" {
			m.Attach = p.Attach
		}
	}
	m.Body = b.String()
	return m
}

// Bundle is events of one cause, which one message tells of; the most urgent
// first.
type Bundle struct {
	Cause  string
	Events []Event
}

// Bundles puts together the events of one step that have one cause, in the order
// in which the causes appear. An event without a cause is alone.
func Bundles(events []Event, cause func(Event) string) []Bundle {
	var all []Bundle
	for _, e := range events {
		c := cause(e)
		i := slices.IndexFunc(all, func(b Bundle) bool { return c != "" && b.Cause == c })
		if i < 0 {
			all = append(all, Bundle{Cause: c, Events: []Event{e}})
			continue
		}
		all[i].Events = append(all[i].Events, e)
	}
	for _, b := range all {
		slices.SortStableFunc(b.Events, func(x, y Event) int {
			return cmp.Compare(x.Key.Priority.rank(), y.Key.Priority.rank())
		})
	}
	return all
}
