// Package station is the state machine: it takes readings, entries, actions and the
// time, and publishes a snapshot after each step. One goroutine calls it. It must not know
// the network, the card or how a person is reached.
//
// # Decisions
//
//   - Limits are set before tracks are rebuilt, and events are recorded before they are
//     committed: a message can then quote both.
//   - Events of a step are gathered and become messages at the commit, one for each cause.
//   - A recovery compares the windows kept when the alarm was raised with those at its
//     end; after a restart in between, with the last ones shown before it began.
//   - The line of a day counts its messages with an alarm that is never true, so that a
//     restart cannot send a day twice.
//   - What a span did to a hatch is its development less that of as long a time as the
//     week before, in days of that week. The windows are shown beside it because they also
//     move with the climate to come.
package station

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"sync/atomic"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/rebuild"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/track"
)

// History keeps the readings.
type History interface {
	sensor.Sink
	Past
	Date(boot uint32, start time.Time, bound time.Duration, synchronised bool) error
	Bytes() (int64, error)
}

// Past is the history as the station reads it, safe from any goroutine.
type Past interface {
	Range(probe string, from, to time.Time) iter.Seq2[history.Point, error]
	Exposure(probe string, from, to time.Time, correct history.Correction) (x thermal.Exposure, first, last thermal.Sample, err error)
	Summaries(probe string, from, to time.Time) iter.Seq2[history.Summary, error]
}

// Ledger keeps the book's entries. Append is durable when it returns.
type Ledger interface {
	Append(entries []book.Entry, recorded time.Time) ([]book.Entry, error)
	Load() ([]book.Entry, error)
}

// Journal keeps the alarms and the messages that are not yet delivered. Commit
// is one transaction.
type Journal interface {
	Load(context.Context) ([]alert.Alarm, []alert.Message, error)
	Commit(context.Context, []alert.Alarm, []alert.Message) error
	Waiting(context.Context) ([]alert.Message, error)
	Forget(ctx context.Context, alarms []string) error
}

// Options are what a station is made of.
type Options struct {
	Plan     plan.Plan
	History  History
	Ledger   Ledger
	Journal  Journal
	Shown    Shown        // nil: the windows are not kept
	AlarmLog AlarmLog     // nil: what alarms there were is not kept
	Boot     history.Boot // the boot that this station runs in
	Version  string
	// Worker runs a job beside the station and hands back what the station
	// then applies; nil runs it at once.
	Worker func(job func() (apply func()))
	// Urgent takes messages that the journal could not, once each, with the
	// alarms they tell of, to deliver them from memory; it may be nil. The journal
	// is still tried for them until it takes them.
	Urgent func([]alert.Alarm, []alert.Message)
	// Visit opens a station over the files for one command, while none runs. It
	// watches no alarm and sends no message. Of the alarms it writes only what a
	// person asked.
	Visit bool
	// Log takes what could not be read of the history; it may be nil. The station goes
	// on without it.
	Log func(error)
	// OnEvent is told of every transition of an alarm; it may be nil.
	OnEvent func(snapshot.Event)
	// Free is how many bytes the card has left; nil: nobody asks.
	Free func() (uint64, error)
	// Troubles are what the last attempt of each sender came to, by name, of those that
	// were tried since the start; nil: nothing is sent.
	Troubles func() map[string]Undelivered
	// Size is how large the station's files are; nil: as large as the history.
	Size func() (int64, error)
	// Copies are the ways the book leaves the card; nil: it does not.
	Copies func() []snapshot.Copy
	// ForecastEvery is how old a window may be before it is computed again.
	ForecastEvery time.Duration
	// PublishEvery is how old a published Now may be; zero publishes after
	// each step.
	PublishEvery time.Duration
}

// Station is one Pi beside the eggs. One goroutine calls its methods, but for
// Now and Book, which anyone may call.
type Station struct {
	o    Options
	plan plan.Plan
	boot history.Boot
	now  time.Time // of the last step

	started     time.Time
	probes      map[string]*zone.Probe
	zones       []*zoneState
	sources     map[sourceID]*source
	feeds       map[string][]*source // a probe's readings feed these
	panel       *panel.Panel
	out         outgoing
	off         time.Duration // before this start; zero: hardly, or not known
	rules       *rules.Set
	view        rules.View
	spaceAsked  time.Time // when the room on the card was last asked for
	cared       *care     // as it was last asked for
	book        book.Book
	tracks      map[string]*exposureTrack
	rebuilds    rebuild.Runner // of what is taken from the history
	readErrors  readErrors
	grouped     []*track.Group // of the book as it is; nil: not yet
	forecast    hatchForecast
	flushes     flushing
	corrections atomic.Pointer[calibration.Timeline]
	Published   atomic.Pointer[snapshot.Snapshot]
	folded      atomic.Pointer[book.Book]
	sent        time.Time // when Now was published
}

// New makes a station over its stores, with what they already hold.
func New(ctx context.Context, o Options, at time.Time) (*Station, error) {
	if o.Worker == nil {
		o.Worker = func(job func() func()) { job()() }
	}
	s := &Station{
		o: o, plan: o.Plan, boot: o.Boot, now: at, started: at,
		probes:     map[string]*zone.Probe{},
		sources:    map[sourceID]*source{},
		feeds:      map[string][]*source{},
		tracks:     map[string]*exposureTrack{},
		readErrors: readErrors{damaged: map[damagedBlock]*history.Damage{}, logged: map[string]time.Time{}},
	}
	s.rebuilds = newRebuilds(s)
	s.forecast.now.Store(forecast.New())
	s.rules = rules.New(rulesPast{s})
	s.build()
	entries, err := o.Ledger.Load()
	if err != nil {
		return nil, fmt.Errorf("reading the book: %w", err)
	}
	if s.book, err = book.Fold(entries); err != nil {
		return nil, fmt.Errorf("the book as stored does not fold; its entries are all still there: %w", err)
	}
	s.updateCorrections()
	s.recall()
	if err := s.loadAlarms(ctx); err != nil {
		return nil, err
	}
	s.lookBack()
	s.recallHumidity()
	s.limits(notice.GoneBeforeStart)
	s.rebuildTracks()
	if !o.Visit {
		if err := s.forget(ctx); err != nil {
			return nil, err
		}
	}
	s.publish()
	return s, nil
}

// Now is the station's state after its last step.
func (s *Station) Now() *snapshot.Snapshot { return s.Published.Load() }

// Book is the book as it stood after the last step.
func (s *Station) Book() *book.Book { return s.folded.Load() }

// Observe takes a batch of readings as the probes gave them: screens them,
// keeps them, and follows them to exposure and alarms.
func (s *Station) Observe(ctx context.Context, readings []sensor.Reading) error {
	screened := s.screen(readings)
	if err := s.o.History.Append(screened); err != nil {
		return fmt.Errorf("keeping %d readings: %w", len(screened), err)
	}
	for len(screened) > 0 {
		at, n := s.at(screened[0].Stamp), countAtInstant(screened)
		s.now = later(s.now, at)
		s.apply(screened[:n], at)
		screened = screened[n:]
		if err := s.watch(ctx); err != nil {
			return err
		}
	}
	s.rebuilds.Step()
	s.publish()
	return s.logForecast()
}

// Tick tells the station the time when nothing else happens.
func (s *Station) Tick(ctx context.Context, at time.Time) error {
	s.now = later(s.now, at)
	s.rebuilds.Step()
	failed := s.flush()
	err := s.watch(ctx)
	s.publish()
	return errors.Join(failed, err, s.logForecast())
}

// Date tells the station when its boot really began, once that is known. Only
// the boot's record is rewritten; readings and alarms follow it.
func (s *Station) Date(ctx context.Context, start time.Time, bound time.Duration, synchronised bool) error {
	if err := s.o.History.Date(s.boot.Number, start, bound, synchronised); err != nil {
		return fmt.Errorf("dating this boot: %w", err)
	}
	moved := start.Sub(s.boot.Start)
	s.boot.Start, s.boot.Bound, s.boot.Synchronised = start, bound, synchronised
	if moved != 0 {
		s.now, s.started = s.now.Add(moved), s.started.Add(moved)
		s.shift(moved)
		s.panel.Shift(s.started.Add(-moved), moved)
		s.rebuilds.Shift(moved)
		s.rebuildClimates()
		s.rules.Shift(&s.view, moved)
		s.limits(notice.GoneByHour)
		s.lookBack()
		s.rebuildTracks()
	}
	s.outdateForecast()
	s.publish()
	return s.commit(ctx)
}

// at is the time of a stamp.
func (s *Station) at(t sensor.Stamp) time.Time { return s.boot.Start.Add(t.Uptime) }

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
