package panel

import (
	"cmp"
	"slices"
	"time"

	"example.com/ootherm/alert"
)

// register holds all alarms by their keys, with a limit or without. The rules ask for the
// alarms in the same order at each step, so each remembers the two that were last asked for
// after it: finding one of them takes no hash of a key. They ask for alarms that nothing asks to
// be watched too.
type register struct {
	byKey   map[alert.Key]*entry
	absent  map[alert.Key]*entry // that were asked for and are not there
	ordered []*entry             // all, by their texts
	last    *entry               // that was found
}

// newRegister is an empty one.
func newRegister() register {
	return register{byKey: map[alert.Key]*entry{}, absent: map[alert.Key]*entry{}}
}

// find is the entry of an alarm; nil where there is none.
func (r *register) find(k alert.Key) *entry {
	if e := r.at(k); !e.absent {
		return e
	}
	return nil
}

// at is the entry of an alarm, or of its absence.
func (r *register) at(k alert.Key) *entry {
	if r.last != nil {
		if r.last.Key == k {
			return r.last
		}
		for _, next := range r.last.next {
			if next != nil && next.Key == k {
				r.last = next
				return next
			}
		}
	}
	e := r.byKey[k]
	if e == nil {
		e = r.absent[k]
	}
	if e == nil {
		e = &entry{absent: true}
		e.Key = k
		r.absent[k] = e
	}
	if r.last != nil {
		r.last.next = [2]*entry{e, r.last.next[0]}
	}
	r.last = e
	return e
}

// add keeps an alarm.
func (r *register) add(e *entry) {
	if gone := r.absent[e.Key]; gone != nil { // those before it still remember its absence
		gone.Key = alert.Key{}
		delete(r.absent, e.Key)
		r.last = nil
	}
	e.text = e.Key.String()
	at, there := r.place(e.text)
	if there {
		r.ordered[at] = e
	} else {
		r.ordered = slices.Insert(r.ordered, at, e)
	}
	r.byKey[e.Key] = e
}

// place is where an alarm with a text is in the order, or would be.
func (r *register) place(text string) (int, bool) {
	return slices.BinarySearchFunc(r.ordered, text, func(e *entry, text string) int { return cmp.Compare(e.text, text) })
}

// remove forgets an alarm.
func (r *register) remove(k alert.Key) {
	delete(r.byKey, k)
	if at, there := r.place(k.String()); there {
		r.ordered = slices.Delete(r.ordered, at, at+1)
	}
	r.last = nil
	for _, all := range []map[alert.Key]*entry{r.byKey, r.absent} { // each may remember it
		for _, e := range all {
			e.next = [2]*entry{}
		}
	}
}

// entry is one alarm: its state, and what the panel remembers beside that.
type entry struct {
	alert.Alarm
	text    string    // of its key
	watched bool      // it has a limit; else it is kept from the journal or from before
	absent  bool      // there is no such alarm
	next    [2]*entry // that were found after it

	dirty    bool         // in Panel.unwritten
	shelved  time.Time    // when a person shelved it, as far as this process knows
	acted    bool         // a person did something about it that is not in the journal
	stored   time.Time    // the beginning of the on-delay, as the journal has it
	probe    string       // whose value it last took
	raisedBy *alert.Limit // while it is true: the limit it was raised by, where that has changed
	ended    string       // why its limit went
	latch    latch
}

// pendingIsNews reports whether the journal must learn of an on-delay. It learns of its
// beginning once a second poll has found it so, and a restart then goes on with it. It learns
// of its end, and a restart then takes up no old one. Polls come a little early or late.
func (e *entry) pendingIsNews(pending, now time.Time, every time.Duration) bool {
	if pending.Equal(e.stored) {
		return false
	}
	return pending.IsZero() || e.stored.IsZero() && now.Sub(pending) >= every*3/4
}

// watched is the entry of an alarm that has a limit; nil where there is none.
func (r *register) watched(k alert.Key) *entry {
	if e := r.find(k); e != nil && e.watched {
		return e
	}
	return nil
}

// keys are the alarms with a limit, in the order of their texts.
func (r *register) keys() []alert.Key { return r.keysOf(true) }

// kept are the alarms without a limit, in the order of their texts.
func (r *register) kept() []alert.Key { return r.keysOf(false) }

func (r *register) keysOf(watched bool) []alert.Key {
	keys := make([]alert.Key, 0, len(r.ordered))
	for _, e := range r.ordered {
		if e.watched == watched {
			keys = append(keys, e.Key)
		}
	}
	return keys
}

// ordered sorts keys by their texts.
func ordered(keys []alert.Key) []alert.Key {
	slices.SortFunc(keys, func(a, b alert.Key) int { return cmp.Compare(a.String(), b.String()) })
	return keys
}

// outranked reports whether an event is a warning called again while the critical alarm of
// the same cause calls: "look today" beside "go now" is no help.
func (r *register) outranked(x alert.Event) bool {
	k := x.Key
	if !x.ReAlarm || k.Priority != alert.Warning {
		return false
	}
	k.Priority = alert.Critical
	e := r.watched(k)
	return e != nil && (e.State == alert.Active || e.State == alert.Acknowledged)
}

// below are the less urgent alarms of the same cause that call: whoever has seen a critical
// alarm has seen its warning.
func (r *register) below(k alert.Key) (all []alert.Key) {
	if k.Priority != alert.Critical {
		return nil
	}
	k.Priority = alert.Warning
	if e := r.watched(k); e != nil && (e.State == alert.Active || e.State == alert.Returned) {
		all = append(all, k)
	}
	return all
}

// outOfService counts by zone what is out of service; without a zone, of the station itself.
func (r *register) outOfService(places Places) map[string]OutOfService {
	all := map[string]OutOfService{}
	for _, zone := range places.parts() {
		all[zone] = OutOfService{Zone: zone, Whole: zone != ""}
	}
	for _, k := range r.keys() {
		if k.Kind == alert.SwitchedOff || k.Kind == alert.AllWell {
			continue
		}
		x, o := r.byKey[k], all[places.zone(k)]
		if x.Out {
			if len(o.Keys) == 0 || x.Changed.Before(o.Since) {
				o.Since = x.Changed
			}
			o.Keys = append(o.Keys, k)
		} else {
			o.Whole = false
		}
		all[places.zone(k)] = o
	}
	return all
}

// Places are the zones of a station, and the zone that each box stands in now, or stood in
// last.
type Places struct {
	Zones []string
	Boxes map[string]string
}

// parts are an empty name for the station itself, and the zones.
func (p Places) parts() []string { return append([]string{""}, p.Zones...) }

// zone is the zone that an alarm is in; see [Panel.Zone].
func (p Places) zone(k alert.Key) string {
	if k.Zone != "" || k.Box == "" || k.Clutch != "" {
		return k.Zone
	}
	return p.Boxes[k.Box]
}
