// Package panel owns the state of every alarm of a station, as an annunciator does (ISA-18.2):
// its delays, acknowledgement, shelving, suppression and what is out of service, and which
// changes are not yet in the journal. Rules hand it limits and values; it hands back events.
// It must not know where a value comes from, how a message reads or how a journal is stored.
//
// # Decisions
//
//   - An alarm whose limit is gone is kept aside with its count of messages, because the
//     outbox refuses an identity that is given twice. It is forgotten after 60 days (our
//     choice), together with its count.
//   - No missing value ends an alarm, over a restart too. The probes that speak for an
//     alarm that stands, with their last values, are stored with it. A sender or a card
//     that was not tried since the start says nothing.
//   - Out of service is a flag of each alarm, stored with it while its limit is not in
//     force. The reminder goes by the time of the flag, so it survives restarts. A
//     reminder cannot itself be put out of service.
//   - Probes that went with their bus are suppressed under the bus from their own limit
//     on. A bus is quiet after two polls, so it is always first.
package panel

import (
	"maps"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
)

// Panel is all alarms of a station by their keys. One goroutine calls its methods. Every
// change is made at the time that the last call of Step gave.
type Panel struct {
	// Episodes follow the events at each Take.
	Episodes Episodes

	now    time.Time
	every  time.Duration // between two polls
	places Places

	entries      register
	events       []Event // since the last Take
	unwritten    Unwritten
	outOfService outOfService // Want and Act update it
}

// Reading is what a rule shows an alarm: its value, in the unit of the alarm's kind.
type Reading struct {
	Value float64
	Known bool      // false: there is no value now
	Probe string    // whose value it is; empty: no single probe's
	Began time.Time // when the condition began, if that was before it was shown; zero: it was not
	Again bool      // it goes on after a rest: an alarm that stands is called before its re-alarm time
}

// Event is one transition or repeated call of an alarm.
type Event struct {
	alert.Event
	Probe  string // whose value the alarm last took; empty: no single probe's
	Notify bool   // it deserves a message
}

// New makes a panel of the alarms that a journal holds. Every is the time between two polls.
func New(stored []alert.Alarm, every time.Duration) *Panel {
	p := &Panel{every: every, entries: newRegister(), Episodes: newEpisodes()}
	for _, x := range stored {
		if episode.IsPlace(x.Key) {
			p.Episodes.load(x)
			continue
		}
		p.entries.add(&entry{Alarm: x, stored: x.Pending})
	}
	return p
}

// Step sets the time of the calls that follow.
func (p *Panel) Step(now time.Time) { p.now = now }

// Want sets the limits of all alarms that are watched. An alarm that is new to the panel
// begins as normal; one that it knows goes on from where it stood. An alarm that is not
// wanted any more ends, for the reason given; what a person put out of service stays so, in
// case the limit comes back.
func (p *Panel) Want(limits map[alert.Key]alert.Limit, places Places, why string) {
	p.places = places
	for _, k := range ordered(slices.Collect(maps.Keys(limits))) {
		p.add(k, limits[k])
	}
	for _, k := range p.Keys() {
		if _, ok := limits[k]; !ok {
			p.remove(p.entries.find(k), why)
		}
	}
	p.Episodes.index(&p.entries, p.now)
	p.outOfService.update(&p.entries, p.places)
}

func (p *Panel) add(k alert.Key, l alert.Limit) {
	e := p.entries.find(k)
	if e == nil {
		p.entries.add(&entry{Alarm: alert.New(k, l), watched: true})
		return
	}
	if !e.True {
		e.raisedBy = nil
	} else if e.raisedBy == nil && e.Limit.At != l.At {
		was := e.Limit
		e.raisedBy = &was
	}
	if e.watched {
		e.Limit = l
		return
	}
	e.watched, e.ended = true, ""
	x, events := e.Resume(p.now, l)
	p.set(e, x, events)
}

// remove ends an alarm whose limit is gone, and keeps it aside: its messages are counted on.
func (p *Panel) remove(e *entry, why string) {
	x, events := e.Gone(p.now)
	e.watched, e.ended = false, why
	if x.Out {
		p.unwritten.mark(e)
	}
	p.set(e, x, events)
}

// Show hands an alarm its value. A key that is not watched is ignored.
func (p *Panel) Show(k alert.Key, r Reading) {
	if e := p.entries.watched(k); e != nil {
		show(p, e, r)
	}
}

// show hands a watched alarm its value.
func show(p *Panel, e *entry, r Reading) {
	if r.Probe != "" {
		e.probe = r.Probe
	}
	if e.stored.IsZero() && e.ObserveQuiet(p.now, r.Value, r.Known) {
		return
	}
	x, events := e.Observe(p.now, r.Value, r.Known)
	if r.Again && len(events) == 0 {
		x, events = x.CallAgain(p.now)
	}
	if x.True && !r.Began.IsZero() && r.Began.Before(x.Began) {
		x.Began = r.Began
		p.unwritten.mark(e)
		for i := range events {
			events[i].Began = r.Began
		}
	}
	if e.pendingIsNews(x.Pending, p.now, p.every) {
		p.unwritten.mark(e)
	}
	p.set(e, x, events)
}

// End ends an alarm that another one takes the place of, at once. A key that is not watched
// is ignored.
func (p *Panel) End(k alert.Key) {
	e := p.entries.watched(k)
	if e == nil {
		return
	}
	p.Show(k, Reading{Value: Truth(false), Known: true})
	x, events := e.Alarm.End(p.now)
	p.set(e, x, events)
}

// Suppress hides an alarm while a cause above it lasts, one that has an alarm of its own, or
// shows it again.
func (p *Panel) Suppress(k alert.Key, hidden bool) {
	e := p.entries.watched(k)
	if e == nil || e.Hidden == hidden {
		return
	}
	p.unwritten.mark(e)
	if hidden {
		x, events := e.Alarm.Suppress(p.now)
		p.set(e, x, events)
	} else {
		x, events := e.Unsuppress(p.now)
		p.set(e, x, events)
	}
}

// set takes over an alarm's next state, and keeps its events for Take.
func (p *Panel) set(e *entry, next alert.Alarm, events []alert.Event) {
	if e.True != next.True { // a hidden alarm has no event of it
		p.unwritten.mark(e)
	}
	e.Alarm = next
	for _, x := range events {
		p.unwritten.mark(e)
		if x.To == alert.Active && !x.ReAlarm {
			e.raisedBy = nil
		}
		p.events = append(p.events, Event{Event: x, Probe: e.probe, Notify: x.Notify() && !p.entries.outranked(x)})
	}
}

// Take gives the events since it was last called, in the order in which they happened. The
// episodes follow them: see [Episodes.Told].
func (p *Panel) Take() []Event {
	callTogether(p)
	events := p.events
	p.events = nil
	follow(p, events)
	return events
}

// callTogether calls critical alarms of zones again where one of them is told of just now, so
// that one message tells of all.
func callTogether(p *Panel) {
	of := func(k alert.Key) bool { return k.Priority == alert.Critical && k.Kind.Side() != "" }
	if !slices.ContainsFunc(p.events, func(e Event) bool { return e.Notify && e.To == alert.Active && of(e.Key) }) {
		return
	}
	for _, place := range p.Episodes.places {
		for _, e := range place.entries {
			if of(e.Key) && e.True {
				x, events := e.CallWithOthers(p.now)
				p.set(e, x, events)
			}
		}
	}
}

// Alarm gives a watched alarm as it stands; false where there is none.
func (p *Panel) Alarm(k alert.Key) (alert.Alarm, bool) {
	if e := p.entries.watched(k); e != nil {
		return e.Alarm, true
	}
	return alert.Alarm{}, false
}

// Stands reports whether a watched alarm is true, seen or unseen, hidden or not.
func (p *Panel) Stands(k alert.Key) bool {
	e := p.entries.watched(k)
	return e != nil && e.True
}

// StandsUnwatched is Stands of an alarm that may have no limit.
func (p *Panel) StandsUnwatched(k alert.Key) bool {
	e := p.entries.find(k)
	return e != nil && e.True
}

// Keys are the watched alarms, in the order of their texts.
func (p *Panel) Keys() []alert.Key { return p.entries.keys() }

// Probe is the probe whose value an alarm last took; empty for no single probe.
func (p *Panel) Probe(k alert.Key) string {
	if e := p.entries.find(k); e != nil {
		return e.probe
	}
	return ""
}

// RaisedBy is the limit that an alarm was raised by, where it has another one now.
func (p *Panel) RaisedBy(k alert.Key) (alert.Limit, bool) {
	if e := p.entries.find(k); e != nil && e.raisedBy != nil {
		return *e.raisedBy, true
	}
	return alert.Limit{}, false
}

// Ended is why an alarm is watched no more, as Want was told; empty while it is watched.
func (p *Panel) Ended(k alert.Key) string {
	if e := p.entries.find(k); e != nil {
		return e.ended
	}
	return ""
}

// Zone is the zone that an alarm is in: a box's is the one that the box stands in now, or
// stood in last. An alarm about a clutch's window is in none.
func (p *Panel) Zone(k alert.Key) string { return p.places.zone(k) }
