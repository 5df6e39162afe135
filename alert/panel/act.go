package panel

import (
	"errors"
	"fmt"
	"time"

	"example.com/ootherm/alert"
)

// What a person can do about an alarm.
const (
	Acknowledge  = "acknowledge"
	Shelve       = "shelve"
	Unshelve     = "unshelve"
	TakeOut      = "out-of-service"
	PutBack      = "in-service"
	actionsNamed = "acknowledge, shelve, unshelve, out-of-service or in-service"
)

// Action is what a person does about alarms.
type Action struct {
	Do    string    // one of the constants
	Alarm string    // the alarm's key; empty: every alarm of the zone
	Zone  string    // empty with an alarm's key
	Until time.Time // of Shelve
	Who   string    // as the person said, for the record
}

// Act does what a person asked, to all alarms that it names or to none. The words of its
// errors are for that person.
func (p *Panel) Act(a Action) error {
	keys, err := p.named(a)
	if err != nil {
		return err
	}
	type step struct {
		alarm  alert.Alarm
		events []alert.Event
	}
	steps := make([]step, len(keys))
	for i, k := range keys {
		x, events, err := a.do(p.entries.find(k).Alarm, p.now)
		if err != nil {
			return err
		}
		steps[i] = step{x, events}
	}
	for i, k := range keys {
		// Kept even where the state stays: a longer quiet has no event of its own.
		e := p.entries.find(k)
		p.unwritten.act(e)
		if a.Do == Shelve {
			e.shelved = p.now
		}
		p.set(e, steps[i].alarm, steps[i].events)
	}
	p.outOfService.update(&p.entries, p.places)
	if a.Do == PutBack {
		p.backInService(keys, a)
	}
	return nil
}

// named are the alarms that an action is about.
func (p *Panel) named(a Action) (keys []alert.Key, err error) {
	if a.Alarm == "" {
		for _, k := range p.Keys() {
			if a.Zone != "" && p.Zone(k) == a.Zone && !(k.Kind == alert.SwitchedOff && a.Do == TakeOut) {
				keys = append(keys, k)
			}
		}
		if len(keys) == 0 {
			return nil, fmt.Errorf("there is no zone %q with alarms; the zones are those of the configuration", a.Zone)
		}
		return keys, nil
	}
	k, err := alert.ParseKey(a.Alarm)
	if err != nil {
		return nil, fmt.Errorf("there is no alarm %q: %w", a.Alarm, err)
	}
	if p.entries.watched(k) == nil {
		return nil, fmt.Errorf("there is no alarm %q here now", a.Alarm)
	}
	switch {
	case k.Kind == alert.SwitchedOff && a.Do == TakeOut:
		return nil, errors.New("what reminds of that something is switched off cannot be switched off; switch that on, or have this quiet for a while")
	case k.Kind == alert.SwitchedOff && a.Do == PutBack:
		return p.OutOfService(k.Zone).Keys, nil
	}
	if a.Do == Acknowledge {
		return append([]alert.Key{k}, p.entries.below(k)...), nil
	}
	return []alert.Key{k}, nil
}

// do gives an alarm after an action on it, and the events of that.
func (a Action) do(x alert.Alarm, now time.Time) (alert.Alarm, []alert.Event, error) {
	var events []alert.Event
	switch a.Do {
	case Acknowledge:
		x, events = x.Acknowledge(now, a.Who)
	case Shelve:
		var err error
		if x, events, err = x.Shelve(now, a.Until); err != nil {
			return x, nil, err
		}
	case Unshelve:
		x, events = x.Unshelve(now)
	case TakeOut:
		x, events = x.OutOfService(now)
	case PutBack:
		x, events = x.InService(now)
	default:
		return x, nil, fmt.Errorf("%q is not an action: %s", a.Do, actionsNamed)
	}
	return x, events, nil
}
