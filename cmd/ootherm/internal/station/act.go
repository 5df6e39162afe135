package station

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// Action is what a person does about alarms.
type Action struct {
	Do    string    // acknowledge, shelve, unshelve, out-of-service, in-service
	Alarm string    // the alarm's key; empty: every alarm of the zone
	Zone  string    // empty with an alarm's key
	Until time.Time // of shelve
	Who   string    // as the person said, for the record
}

// Post commits a message that no alarm has. One that still waits to be written is
// not taken twice.
func (s *Station) Post(ctx context.Context, m alert.Message) error {
	same := func(x alert.Message) bool { return x.ID == m.ID && x.Sender == m.Sender }
	if !slices.ContainsFunc(s.alarms.messages, same) {
		s.alarms.messages = append(s.alarms.messages, m)
	}
	return s.commit(ctx)
}

// Act does what a person asked about alarms: to all that it names, or to none.
func (s *Station) Act(ctx context.Context, a Action) error {
	var keys []alert.Key
	if a.Alarm != "" {
		k, err := alert.ParseKey(a.Alarm)
		if err != nil {
			return usererr.New(fmt.Sprintf("there is no alarm %q: %s", a.Alarm, strings.TrimPrefix(err.Error(), "alert: ")))
		}
		if _, ok := s.alarms.byKey[k]; !ok {
			return usererr.New(fmt.Sprintf("there is no alarm %q here now", a.Alarm))
		}
		switch {
		case k.Kind == alert.SwitchedOff && a.Do == "out-of-service":
			return usererr.New("what reminds of that something is switched off cannot be switched off; switch that on, or have this quiet for a while")
		case k.Kind == alert.SwitchedOff && a.Do == "in-service":
			keys = s.outOf(k.Zone).keys
		default:
			keys = append(keys, k)
		}
	} else {
		for _, k := range s.keys() {
			if a.Zone != "" && s.zoneNamed(k) == a.Zone && !(k.Kind == alert.SwitchedOff && a.Do == "out-of-service") {
				keys = append(keys, k)
			}
		}
		if len(keys) == 0 {
			return usererr.New(fmt.Sprintf("there is no zone %q with alarms; the zones are those of the configuration", a.Zone))
		}
	}
	type done struct {
		x      alert.Alarm
		events []alert.Event
	}
	all := make([]done, len(keys))
	for i, k := range keys {
		x := s.alarms.byKey[k]
		var events []alert.Event
		switch a.Do {
		case "acknowledge":
			x, events = x.Acknowledge(s.now, a.Who)
		case "shelve":
			var err error
			if x, events, err = x.Shelve(s.now, a.Until); err != nil {
				return usererr.New(strings.TrimPrefix(err.Error(), "alert: "))
			}
		case "unshelve":
			x, events = x.Unshelve(s.now)
		case "out-of-service":
			x, events = x.OutOfService(s.now)
		case "in-service":
			x, events = x.InService(s.now)
		default:
			return usererr.New(fmt.Sprintf("%q is not an action: acknowledge, shelve, unshelve, out-of-service or in-service", a.Do))
		}
		all[i] = done{x, events}
	}
	for i, k := range keys {
		// Kept even where the state stays: a longer quiet has no event of its own.
		s.alarms.byKey[k], s.alarms.acted[k], s.alarms.dirty[k] = all[i].x, true, true
		s.tell(k, all[i].events)
	}
	s.reckonOff()
	if a.Do == "in-service" {
		s.backInService(keys, a)
	}
	s.publish()
	return s.commit(ctx)
}
