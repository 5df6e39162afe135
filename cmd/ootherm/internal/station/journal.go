package station

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// outgoing is what steps led to that is not yet in the journal or the alarm log.
type outgoing struct {
	told     []alert.Event // that deserve a message
	past     []alert.Event // that the alarm log does not have
	messages []alert.Message
	handed   int  // of the messages, those that were handed on as urgent
	failing  bool // the journal did not take the last commit
	posted   bool // messages were committed since TakePosted was last called

	likelyBefore map[alert.Key]map[string]time.Time // the likely hatch of each group as an excursion began
}

// maxUnkeptEvents is how many events wait at most for the alarm log while it cannot be written
// (our choice): a card that is full for days must not fill the memory.
const maxUnkeptEvents = 1000

// loadAlarms makes the panel of what the journal holds.
func (s *Station) loadAlarms(ctx context.Context) error {
	stored, _, err := s.o.Journal.Load(ctx)
	if err != nil {
		return fmt.Errorf("reading the alarms: %w", err)
	}
	s.panel = panel.New(stored, s.plan.Every)
	s.panel.Step(s.now)
	s.out.likelyBefore = map[alert.Key]map[string]time.Time{}
	return nil
}

// record follows what happened on the panel to the messages, to the alarm log and to whoever
// listens.
func (s *Station) record() {
	for _, e := range s.panel.Take() {
		if e.To == alert.Active && !e.ReAlarm {
			s.noteWindows(e.Key)
		}
		if !e.ReAlarm {
			s.out.past = append(s.out.past, e.Event)
		}
		if e.Notify {
			s.out.told = append(s.out.told, e.Event)
		}
		if s.o.OnEvent != nil && e.From != e.To {
			s.o.OnEvent(eventOf(e.Event, s.panel.Zone(e.Key), e.Probe))
		}
	}
}

// commit writes alarms that changed, and their messages, in one transaction. If
// that fails they are kept for the next time.
func (s *Station) commit(ctx context.Context) (err error) {
	s.record()
	defer func() { err = errors.Join(err, s.logEvents()) }()
	if s.o.Visit {
		s.out.told = nil
		s.out.past = slices.DeleteFunc(s.out.past, func(e alert.Event) bool { return !s.panel.Acted(e.Key) })
		s.panel.DropUnacted()
	}
	s.compose()
	changed := s.panel.Changed()
	if len(changed) == 0 && len(s.out.messages) == 0 {
		return nil
	}
	if err := s.o.Journal.Commit(ctx, changed, s.out.messages); err != nil {
		s.out.failing = true
		if fresh := s.out.messages[s.out.handed:]; len(fresh) > 0 && s.o.Urgent != nil {
			s.o.Urgent(changed, fresh)
			s.out.handed = len(s.out.messages)
		}
		return fmt.Errorf("writing %d alarms and %d messages: %w", len(changed), len(s.out.messages), err)
	}
	s.panel.Written()
	s.out.failing = false
	s.out.posted = s.out.posted || len(s.out.messages) > 0
	s.out.messages, s.out.handed = nil, 0
	return nil
}

// logEvents has the alarm log follow the alarms' events. What it does not take waits.
func (s *Station) logEvents() error {
	if s.o.AlarmLog == nil || len(s.out.past) == 0 {
		s.out.past = nil
		return nil
	}
	if err := s.o.AlarmLog.Keep(s.out.past); err != nil {
		s.out.past = s.out.past[max(0, len(s.out.past)-maxUnkeptEvents):]
		return fmt.Errorf("keeping what alarms there were: %w", err)
	}
	s.out.past = nil
	return nil
}

// TakePosted reports whether messages were committed since it was last called.
func (s *Station) TakePosted() bool {
	posted := s.out.posted
	s.out.posted = false
	return posted
}

// Post commits a message that no alarm has. One that still waits to be written is
// not taken twice.
func (s *Station) Post(ctx context.Context, m alert.Message) error {
	same := func(x alert.Message) bool { return x.ID == m.ID && x.Sender == m.Sender }
	if !slices.ContainsFunc(s.out.messages, same) {
		s.out.messages = append(s.out.messages, m)
	}
	return s.commit(ctx)
}

// Alarms that nothing asks for any more, as those of a zone that left the
// configuration, are kept for as long as a receiver may remember their messages,
// and a season's pause is over; then they are forgotten (our choice).
const forgetAfter = 60 * 24 * time.Hour

// forget ends the stored alarms that nothing asks for, and takes what is long past
// from the journal.
func (s *Station) forget(ctx context.Context) error {
	s.panel.EndUnwanted(notice.GoneBeforeStart)
	var old []string
	if s.boot.Synchronised {
		old = s.panel.Forget(s.now.Add(-forgetAfter))
	}
	if err := s.commit(ctx); err != nil {
		return fmt.Errorf("ending alarms of what is no longer watched: %w", err)
	}
	if len(old) == 0 {
		return nil
	}
	if err := s.o.Journal.Forget(ctx, old); err != nil {
		return fmt.Errorf("forgetting %d old alarms: %w", len(old), err)
	}
	return nil
}

func eventOf(e alert.Event, zone, probe string) snapshot.Event {
	value, limit := snapshot.OptFloat(e.Value), snapshot.OptFloat(e.Limit)
	if e.Key.Kind.Unit() == alert.None { // a condition has no figures
		value, limit = nil, nil
	}
	if e.Key.Probe != "" {
		probe = e.Key.Probe
	}
	return snapshot.Event{
		At: e.At, Alarm: string(e.Key.Kind), Zone: snapshot.OptText(zone), Probe: snapshot.OptText(probe),
		From: string(e.From), To: string(e.To), Value: value, Limit: limit,
		Unit: snapshot.OptText(string(e.Key.Kind.Unit())), Priority: string(e.Key.Priority), Box: snapshot.OptText(e.Key.Box),
	}
}

// Standing are all alarms as they stand, but for what eggs felt in all once somebody
// has seen it: that is never undone.
func (s *Station) Standing() []alert.Alarm {
	var all []alert.Alarm
	for _, k := range s.panel.Keys() {
		if x, _ := s.panel.Alarm(k); x.State != alert.Acknowledged || k.Kind != alert.Cumulative {
			all = append(all, x)
		}
	}
	return all
}
