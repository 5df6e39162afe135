// Package station is the state machine: it takes readings, entries, actions and the time,
// and publishes a snapshot after each step. It owns the clock, the book and one value of
// each package below it, and calls them in their order; one goroutine calls it. It must not
// know the network, the card or how a person is reached.
//
// # Decisions
//
//   - Limits are set before exposures are rebuilt, and events are recorded before they are
//     committed: a message can then quote both.
//   - A boot that gets another date moves all times of this boot. Everything that comes
//     from stored readings is computed again, because they have other dates.
package station

import (
	"context"
	"errors"
	"fmt"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/episode"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/station/care"
	"example.com/ootherm/cmd/ootherm/internal/station/conditions"
	"example.com/ootherm/cmd/ootherm/internal/station/exposures"
	"example.com/ootherm/cmd/ootherm/internal/station/journal"
	"example.com/ootherm/cmd/ootherm/internal/station/messages"
	"example.com/ootherm/cmd/ootherm/internal/station/pastreadings"
	"example.com/ootherm/cmd/ootherm/internal/station/rulesview"
	"example.com/ootherm/cmd/ootherm/internal/station/waterloss"
	"example.com/ootherm/cmd/ootherm/internal/station/windows"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book"
)

// Station is one Pi beside the eggs. One goroutine calls its methods, but for Now, Book and
// those of Queries, which anyone may call.
type Station struct {
	o    Options
	boot history.Boot
	now  time.Time // of the last step
	book book.Book

	past       *pastreadings.Past
	conditions *conditions.Conditions
	exposures  *exposures.Exposures
	windows    *windows.Windows
	losses     *waterloss.Losses
	panel      *panel.Panel
	rules      *rulesview.Rules
	messages   *messages.Messages
	journal    *journal.Journal
	flushes    flushes
	queries    *Queries
}

// New makes a station over its stores, with what they already hold.
func New(ctx context.Context, o Options, at time.Time) (*Station, error) {
	s := &Station{o: o.withDefaults(), boot: o.Boot, now: at}
	s.past = pastreadings.New(pastreadings.Options{History: o.History, Derived: o.Derived, Plan: o.Plan, Worker: s.o.Worker, Now: s.Time, Log: o.Log})
	s.windows = windows.New(windows.Options{Plan: o.Plan, Every: o.ForecastEvery, Log: o.Shown})
	s.conditions = conditions.New(o.Plan, s.past, at, s.windows.Outdate)
	s.exposures = exposures.New(o.Plan, s.past, s.windows.Prior, s.windows.Outdate)
	s.windows.Follow(s.conditions, s.exposures)
	s.losses = waterloss.New(o.Plan, s.past, care.New(o.Plan, s.exposures.Groups))
	s.flushes = flushes{history: o.History}
	var err error
	if s.book, err = loadBook(o.Ledger); err != nil {
		return nil, err
	}
	s.exposures.SetBook(s.book)
	s.windows.SetBook(s.book)
	s.past.Correct(TimelineOf(o.Plan, s.book))
	s.conditions.Recall(at)
	if err := s.loadAlarms(ctx); err != nil {
		return nil, err
	}
	s.queries = &Queries{past: s.past, windows: s.windows, journal: s.journal}
	s.conditions.LookBack(s.boot.Synchronised)
	s.conditions.RecallHumidity(rules.HumidityRemembered)
	s.exposures.RebuildWaiting() // before the limits, whose alarms read weeks of readings
	s.setLimits(notice.GoneBeforeStart)
	s.exposures.Rebuild()
	if !o.Visit {
		if err := s.journal.Forget(ctx, at, s.boot.Synchronised); err != nil {
			return nil, err
		}
	}
	s.publish()
	return s, nil
}

// loadBook folds the entries as they are stored.
func loadBook(l Ledger) (book.Book, error) {
	entries, err := l.Load()
	if err != nil {
		return book.Book{}, fmt.Errorf("reading the book: %w", err)
	}
	b, err := book.Fold(entries)
	if err != nil {
		return b, fmt.Errorf("the book as stored does not fold; its entries are all still there: %w", err)
	}
	return b, nil
}

// loadAlarms makes the panel of the alarms that are stored, and what follows it.
func (s *Station) loadAlarms(ctx context.Context) (err error) {
	o := s.o
	s.journal, s.panel, err = journal.Open(ctx, journal.Options{
		Store: o.Journal, AlarmLog: o.AlarmLog, Urgent: o.Urgent, OnEvent: o.OnEvent, Visit: o.Visit,
	}, o.Plan.Every, s.now)
	if err != nil {
		return err
	}
	s.rules = rulesview.New(rulesview.Options{
		Plan: o.Plan, Past: s.past, Conditions: s.conditions, Exposures: s.exposures, Windows: s.windows, Care: s.losses,
		Free: o.Free, WatchesCopies: o.Copies != nil, WatchesSenders: o.Troubles != nil, WatchesHeartbeat: o.Heartbeat != nil,
	})
	if !o.Visit {
		s.panel.Episodes.Look = func(place alert.Key, side alert.Side) (episode.Situation, bool) {
			return s.rules.Look(s.panel, place, side)
		}
	}
	s.messages = messages.New(messages.Options{
		Plan: o.Plan, Past: s.past, Conditions: s.conditions, Exposures: s.exposures, Windows: s.windows, Care: s.losses,
		Rules: s.rules, Panel: s.panel, Now: s.Time, CopyTrouble: o.copyTrouble, Failures: o.failures, Heartbeat: o.heartbeat,
	})
	s.journal.Compose = s.messages.Compose
	return nil
}

// Time is the time of the last step.
func (s *Station) Time() time.Time { return s.now }

// Boot is the boot that the station runs in, as it is dated now.
func (s *Station) Boot() history.Boot { return s.boot }

// Advance moves the time of the station forward without a step. A replay notes entries at
// the time at which they happened.
func (s *Station) Advance(to time.Time) {
	if to.After(s.now) {
		s.now = to
	}
}

// Observe takes a batch of readings as the probes gave them: screens them,
// keeps them, and follows them to exposure and alarms.
func (s *Station) Observe(ctx context.Context, readings []sensor.Reading) error {
	screened := s.conditions.Screen(readings)
	if err := s.o.History.Append(screened); err != nil {
		return fmt.Errorf("keeping %d readings: %w", len(screened), err)
	}
	for len(screened) > 0 {
		at, n := s.boot.Start.Add(screened[0].Uptime), countAtInstant(screened)
		s.Advance(at)
		s.conditions.Observe(screened[:n], at, s.exposures.Observe)
		screened = screened[n:]
		if err := s.watch(ctx); err != nil {
			return err
		}
	}
	s.past.Rebuilds.Step()
	s.publish()
	return s.windows.Keep()
}

// countAtInstant is how many of the readings share the first one's instant.
func countAtInstant(readings []sensor.Reading) int {
	n := 1
	for n < len(readings) && readings[n].Stamp == readings[0].Stamp {
		n++
	}
	return n
}

// Tick tells the station the time when nothing else happens.
func (s *Station) Tick(ctx context.Context, at time.Time) error {
	s.Advance(at)
	s.past.Rebuilds.Step()
	if !s.o.Visit {
		s.past.KeepBlocks()
	}
	failed := s.flushes.step(s.now, s.o.Plan)
	err := s.watch(ctx)
	s.publish()
	return errors.Join(failed, err, s.windows.Keep())
}

// Date tells the station when its boot really began, once that is known. Only the boot's
// record is rewritten; readings and alarms follow it. What comes from the readings is
// computed again.
func (s *Station) Date(ctx context.Context, start time.Time, bound time.Duration, synchronised bool) error {
	if err := s.o.History.Date(s.boot.Number, start, bound, synchronised); err != nil {
		return fmt.Errorf("dating this boot: %w", err)
	}
	moved := start.Sub(s.boot.Start)
	s.boot.Start, s.boot.Bound, s.boot.Synchronised = start, bound, synchronised
	if moved != 0 {
		s.panel.Shift(s.conditions.Started, moved)
		s.now = s.now.Add(moved)
		s.conditions.Shift(moved)
		s.flushes.shift(moved)
		s.past.Forget()
		s.losses.Forget()
		s.past.Rebuilds.Shift(moved)
		s.conditions.Recall(s.now)
		s.rules.Shift(moved)
		s.setLimits(notice.GoneByHour)
		s.conditions.LookBack(synchronised)
		s.conditions.RecallHumidity(rules.HumidityRemembered)
		s.exposures.ForgetAll()
		s.exposures.Rebuild()
	}
	s.Refresh()
	return s.journal.Commit(ctx)
}

// Act does what a person asked about alarms: to all that it names, or to none.
func (s *Station) Act(ctx context.Context, a panel.Action) error {
	s.panel.Step(s.now)
	if err := s.panel.Act(a); err != nil {
		return usererr.New(err.Error())
	}
	if a.Do == panel.PutBack && !s.o.Visit {
		s.rules.Refresh(s.book, s.now)
		rules.ShowSwitchedOff(&s.rules.View, s.panel)
	}
	s.journal.Record()
	s.publish()
	return s.journal.Commit(ctx)
}

// Post commits a message that no alarm has. One that still waits to be written is not taken
// twice.
func (s *Station) Post(ctx context.Context, m alert.Message) error {
	s.journal.Add(m)
	return s.journal.Commit(ctx)
}

// TakePosted reports whether messages were committed since it was last called.
func (s *Station) TakePosted() bool { return s.journal.TakePosted() }

// ReportUnreadable takes an error of a read of the stored readings that the station did not
// make itself.
func (s *Station) ReportUnreadable(err error) { s.past.Report(err) }

// Flush makes the readings durable now.
func (s *Station) Flush() error { return s.flushes.flush(s.now) }

// Stop makes durable what the station holds.
func (s *Station) Stop(ctx context.Context) error {
	return errors.Join(s.journal.Commit(ctx), s.Flush())
}

// watch shows every alarm its value as it is now, and writes what changed.
func (s *Station) watch(ctx context.Context) error {
	if s.o.Visit {
		return nil
	}
	s.panel.Step(s.now)
	if s.rules.BandsChanged(s.now) {
		s.setLimits(notice.GoneByHour)
	}
	s.rules.Refresh(s.book, s.now)
	beat, beaten := s.o.heartbeat()
	s.rules.RefreshHealth(rulesview.Health{
		StorageFailing: s.flushes.failing || s.journal.Failing(), StorageKnown: !s.flushes.done.IsZero(),
		Synchronised: s.boot.Synchronised, CopyFailing: s.o.copyTrouble() != "", Senders: s.o.failures(),
		HeartbeatTried: beaten, HeartbeatFailing: beat.Err != "",
	}, s.now)
	s.rules.Show(s.panel)
	s.messages.WatchDay(s.journal.Add)
	return s.journal.Commit(ctx)
}

// setLimits makes the alarms of the plan, and of what is in each zone just now. Why is the
// reason told of those that stand and are no longer wanted.
func (s *Station) setLimits(why string) {
	s.rules.SetLimits(s.panel, s.book, s.now, why)
	s.journal.Record()
}

// Refresh computes all windows and publishes the state, however lately that was done.
func (s *Station) Refresh() {
	s.windows.Outdate()
	s.windows.Update(s.now)
	s.queries.publish(s.snapshot(), s.book)
}

// publish makes the station's state readable as of now, unless it was lately.
func (s *Station) publish() {
	s.windows.Update(s.now)
	last := s.Now()
	if last != nil && s.o.PublishEvery > 0 && s.now.Sub(last.At) < s.o.PublishEvery {
		return
	}
	s.queries.publish(s.snapshot(), s.book)
}
