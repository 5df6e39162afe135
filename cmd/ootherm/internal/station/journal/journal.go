// Package journal owns what happened to the alarms and is not stored yet: the events of a
// step, their messages, and their lines in the alarm log. It writes alarms and messages in
// one transaction, and keeps what could not be written for the next. It must not know what
// a message says, or what the alarms are about.
//
// # Decisions
//
//   - Events of a step are gathered and become messages at the commit, one for each cause.
package journal

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertlog"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/published"
)

// Store keeps the alarms and the messages that are not yet delivered. Commit is one
// transaction.
type Store interface {
	Load(context.Context) ([]alert.Alarm, []alert.Message, error)
	Commit(context.Context, []alert.Alarm, []alert.Message) error
	Waiting(context.Context) ([]alert.Message, error)
	Forget(ctx context.Context, alarms []string) error
}

// AlarmLog keeps what alarms there were. Keep is durable when it returns; Between may be
// called from any goroutine.
type AlarmLog interface {
	Keep([]alert.Event) error
	Between(from, to time.Time) ([]alertlog.Occurrence, error)
}

var _ AlarmLog = (*alertlog.Store)(nil)

// Options are what a Journal is made of.
type Options struct {
	Store    Store
	AlarmLog AlarmLog // nil: what alarms there were is not kept
	// Urgent takes messages that the store could not, once each, with the alarms they tell
	// of; it may be nil.
	Urgent func([]alert.Alarm, []alert.Message)
	// OnEvent is told of every transition of an alarm; it may be nil.
	OnEvent func(snapshot.Event)
	// Visit stores of the alarms only what a person asked, and makes no messages.
	Visit bool
}

// Journal is what is not yet in the store or the alarm log. One goroutine calls its
// methods, but for PastAlarms.
type Journal struct {
	// Compose makes the messages of what a person is to be told.
	Compose func([]episode.Told) []alert.Message

	o        Options
	panel    *panel.Panel
	told     []episode.Told // that have no messages yet
	past     []alert.Event  // that the alarm log does not have
	messages []alert.Message
	handed   int  // of the messages, those that were handed on as urgent
	failing  bool // the store did not take the last commit
	posted   bool // messages were committed since TakePosted was last called
}

// maxUnkeptEvents is how many events wait at most for the alarm log while it cannot be written
// (our choice): a card that is full for days must not fill the memory.
const maxUnkeptEvents = 1000

// Open makes a journal, and the panel of the alarms that its store holds. Every is the time
// between two polls.
func Open(ctx context.Context, o Options, every time.Duration, now time.Time) (*Journal, *panel.Panel, error) {
	stored, _, err := o.Store.Load(ctx)
	if err != nil {
		return nil, nil, fmt.Errorf("reading the alarms: %w", err)
	}
	p := panel.New(stored, every)
	p.Step(now)
	return &Journal{o: o, panel: p}, p, nil
}

// Record follows what happened on the panel to the messages, to the alarm log and to whoever
// listens.
func (j *Journal) Record() {
	for _, e := range j.panel.Take() {
		if !e.ReAlarm {
			j.past = append(j.past, e.Event)
		}
		if j.o.OnEvent != nil && e.From != e.To {
			j.o.OnEvent(published.Event(e.Event, j.panel.Zone(e.Key), e.Probe))
		}
	}
	j.told = append(j.told, j.panel.Episodes.Told()...)
}

// Add has the next Commit store a message that no event led to. One that still waits to be
// stored is not taken twice.
func (j *Journal) Add(m alert.Message) {
	same := func(x alert.Message) bool { return x.ID == m.ID && x.Sender == m.Sender }
	if !slices.ContainsFunc(j.messages, same) {
		j.messages = append(j.messages, m)
	}
}

// Commit writes alarms that changed, and their messages, in one transaction. If that fails
// they are kept for the next time.
func (j *Journal) Commit(ctx context.Context) (err error) {
	j.Record()
	defer func() { err = errors.Join(err, j.logEvents()) }()
	if j.o.Visit {
		j.told = nil
		j.past = slices.DeleteFunc(j.past, func(e alert.Event) bool { return !j.panel.Unwritten().Acted(e.Key) })
		j.panel.Unwritten().DropUnacted()
	}
	if told := j.told; len(told) > 0 {
		j.told = nil
		j.messages = append(j.messages, j.Compose(told)...)
	}
	changed := j.panel.Unwritten().Changed()
	if len(changed) == 0 && len(j.messages) == 0 {
		return nil
	}
	if err := j.o.Store.Commit(ctx, changed, j.messages); err != nil {
		j.failing = true
		j.handOn(changed)
		return fmt.Errorf("writing %d alarms and %d messages: %w", len(changed), len(j.messages), err)
	}
	j.panel.Unwritten().Written()
	j.failing = false
	j.posted = j.posted || len(j.messages) > 0
	j.messages, j.handed = nil, 0
	return nil
}

// handOn hands on as urgent the messages that were not yet, with the alarms they tell of.
func (j *Journal) handOn(alarms []alert.Alarm) {
	if fresh := j.messages[j.handed:]; len(fresh) > 0 && j.o.Urgent != nil {
		j.o.Urgent(alarms, fresh)
		j.handed = len(j.messages)
	}
}

// logEvents has the alarm log follow the alarms' events. What it does not take waits.
func (j *Journal) logEvents() error {
	if j.o.AlarmLog == nil || len(j.past) == 0 {
		j.past = nil
		return nil
	}
	if err := j.o.AlarmLog.Keep(j.past); err != nil {
		j.past = j.past[max(0, len(j.past)-maxUnkeptEvents):]
		return fmt.Errorf("keeping what alarms there were: %w", err)
	}
	j.past = nil
	return nil
}

// Failing reports whether the store did not take the last commit.
func (j *Journal) Failing() bool { return j.failing }

// TakePosted reports whether messages were committed since it was last called.
func (j *Journal) TakePosted() bool {
	posted := j.posted
	j.posted = false
	return posted
}

// Alarms that nothing asks for any more, as those of a zone that left the configuration,
// are kept for as long as a receiver may remember their messages, and a season's pause is
// over; then they are forgotten (our choice).
const forgetAfter = 60 * 24 * time.Hour

// Forget ends the stored alarms that nothing asks for, and, where the time is known, takes
// what is long past from the store.
func (j *Journal) Forget(ctx context.Context, now time.Time, timeKnown bool) error {
	j.panel.EndUnwanted(notice.GoneBeforeStart)
	var old []string
	if timeKnown {
		old = j.panel.Forget(now.Add(-forgetAfter))
	}
	if err := j.Commit(ctx); err != nil {
		return fmt.Errorf("ending alarms of what is no longer watched: %w", err)
	}
	if len(old) == 0 {
		return nil
	}
	if err := j.o.Store.Forget(ctx, old); err != nil {
		return fmt.Errorf("forgetting %d old alarms: %w", len(old), err)
	}
	return nil
}

// Waiting is how many stored messages are not yet delivered, the time of the oldest, and what
// waits for each sender. The time is nil where there is none, or that cannot be read.
func (j *Journal) Waiting(ctx context.Context) (n int, oldest *time.Time, by []snapshot.Delivery) {
	by = []snapshot.Delivery{}
	waiting, err := j.o.Store.Waiting(ctx)
	if err != nil {
		return 0, nil, by
	}
	for _, m := range waiting {
		if at := m.At; oldest == nil || at.Before(*oldest) {
			oldest = &at
		}
		i := slices.IndexFunc(by, func(d snapshot.Delivery) bool { return d.Sender == m.Sender })
		if i < 0 {
			i = len(by)
			by = append(by, snapshot.Delivery{Sender: m.Sender})
		}
		by[i] = addWaiting(by[i], m)
	}
	return len(waiting), oldest, by
}

// addWaiting adds a message that waits to those of its sender.
func addWaiting(d snapshot.Delivery, m alert.Message) snapshot.Delivery {
	if m.Refused {
		d.Refused++
	} else {
		d.Waiting++
		if at := m.Next; !at.IsZero() && (d.NextTry == nil || at.Before(*d.NextTry)) {
			d.NextTry = &at
		}
	}
	if m.LastErr != "" {
		d.Err = &m.LastErr
	}
	urgent := m.Priority == alert.Critical || m.Priority == alert.Warning
	if at := m.At; urgent && m.Attempts > 0 && m.LastErr != "" && (d.AlarmsFailSince == nil || at.Before(*d.AlarmsFailSince)) {
		d.AlarmsFailSince = &at
	}
	return d
}

// Peaks gives the worst value of each alarm that stands: the log has an older one.
func (j *Journal) Peaks() map[alert.Key]float64 {
	peaks := map[alert.Key]float64{}
	for _, k := range j.panel.Keys() {
		if a, _ := j.panel.Alarm(k); a.True {
			peaks[k] = a.Peak
		}
	}
	return peaks
}

// PastAlarms gives the alarms that lasted at some time of a span, with the worst value given
// in peaks where they still stand. Any goroutine may call it.
func (j *Journal) PastAlarms(peaks map[alert.Key]float64, from, to time.Time) ([]snapshot.PastAlarm, error) {
	all := []snapshot.PastAlarm{}
	if j.o.AlarmLog == nil {
		return all, nil
	}
	kept, err := j.o.AlarmLog.Between(from, to)
	if err != nil {
		return nil, err
	}
	for _, a := range kept {
		if worst, ok := peaks[a.Key]; ok && a.Ended.IsZero() {
			a.Peak = snapshot.OptFloat(worst)
		}
		all = append(all, published.PastAlarm(a))
	}
	return all, nil
}
