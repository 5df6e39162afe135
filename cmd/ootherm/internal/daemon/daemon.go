// Package daemon opens the stores and runs a station over them: probes, the station's
// loop, page, senders and heartbeat. It stops them in reverse order. It must not compute
// anything that the station, a store or a sender owns.
//
// # Decisions
//
//   - The time that a domain gets is the boot's start plus the uptime, never the wall
//     clock. Dating a boot again writes one record, and the alarms of that boot move.
//   - A command without a running station watches no alarm and makes no message. It
//     writes of the alarms only what a person asked. It has no background worker: it
//     waits for what a running station computes in the background.
//   - The state at a broker has a connection of its own, with a last will. Messages
//     connect for each, so that a dead connection cannot hold one up.
package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"path/filepath"
	"sync"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/alertlog"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/bookcopy"
	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/metrics"
	"example.com/ootherm/cmd/ootherm/internal/permission"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/cmd/ootherm/internal/web"
	"example.com/ootherm/cmd/ootherm/internal/web/page"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book/ledger"
	"example.com/ootherm/thermal/forecastlog"
)

// Build identifies this program.
type Build struct {
	Version string
	Date    time.Time // a clock that shows an earlier time is wrong
}

// machine gives the clocks of the machine that the station runs on.
type machine interface {
	Boot() string
	Read() (clock.Reading, error)
}

// daemon runs a station over its files, with everything that serves it.
type daemon struct {
	cfg         config.Config
	plan        plan.Plan
	build       Build
	log         *slog.Logger
	time        *timekeeper
	loop        *loop
	files       *storage.Files
	history     *history.Store
	outbox      *outbox.Store
	handler     http.Handler
	dialer      *dialer.Dialer // of every connection to another machine
	lamps       *senders.Lamps
	sending     sending
	bookBackup  *bookcopy.Backup
	lastFailure lastFailure
}

// sending is how messages leave the outbox. It is set before the station steps.
type sending struct {
	deliveries deliveries
	overflow   *outbox.Overflow // nil if nothing is sent
	wake       func()           // wakes the courier after messages were committed; nil if nothing is sent
	routes     []outbox.Route   // as the messages take them
}

// lastFailure holds the error that was logged last.
type lastFailure struct {
	mu     sync.Mutex
	text   string
	uptime time.Duration // when it was logged
}

// Prepare makes a daemon. It prepares the station's folder and does not open the stores.
func Prepare(cfg config.Config, plan plan.Plan, build Build, m machine, log *slog.Logger) (*daemon, error) {
	if err := permission.OpenFolder(cfg.Station.Data); err != nil {
		return nil, err
	}
	t, err := newTimekeeper(m, build.Date)
	if err != nil {
		return nil, err
	}
	d := &daemon{cfg: cfg, plan: plan, build: build, log: log, time: t, dialer: dialer.New(), lamps: senders.LampsOf(cfg), bookBackup: bookcopy.New(cfg, plan)}
	d.loop = newLoop(min(plan.Every, 10*time.Second), t.now, d.logFailure, d.afterStep)
	if d.handler, err = d.pages(); err != nil {
		return nil, permission.FolderHint(err, cfg.Station.Data)
	}
	return d, nil
}

// pages makes the handler of the page and of the requests that commands send.
func (d *daemon) pages() (http.Handler, error) {
	state, past := stateSource{d.loop}, &historySource{d.loop, newRehearsals(d.loop, d.time.now)}
	attempts := func() map[metrics.Attempt]int { return d.sending.deliveries.attemptsOf(d.plan.Senders) }
	exposition, err := metrics.New(state, attempts, d.build.Version)
	if err != nil {
		return nil, err
	}
	access, err := remoteAccess(d.cfg)
	if err != nil {
		return nil, err
	}
	secret, err := calendarSecret(d.cfg.Station.Data)
	if err != nil {
		return nil, err
	}
	labelURL := ""
	if d.cfg.Station.Addressed {
		labelURL = d.plan.URL
	}
	return web.New(page.Options{
		Source:    state,
		Past:      past,
		Shown:     past,
		Incidents: past,
		Writer:    commandSink{d.loop},
		Access:    access,
		Reader:    words.Reader{Units: d.plan.Units, Place: d.plan.Location, Today: d.time.now},
		URL:       d.plan.URL,
		Notice:    d.cfg.Station.Notice,
		Every:     d.plan.Every,
		Clock:     d.time.now,
		Log:       d.log,
		BookOptions: page.BookOptions{
			Book:     state,
			Paces:    state.Paces,
			Profiles: d.plan.ProfileNames(),
			EggG:     d.plan.EggG,
			Bands:    d.plan.Bands,
			LabelURL: labelURL,
		},
		CalendarOptions: page.CalendarOptions{
			Calendar:  secret,
			Revisions: &calendarSequence{path: filepath.Join(d.cfg.Station.Data, "calendar-sequence")},
		},
		ProgramOptions: page.ProgramOptions{Metrics: exposition, Backup: d.backup, SendTest: d.sendTest},
	})
}

// open opens the files and makes a station over them. It can take minutes, because it
// checks the readings first.
func (d *daemon) open(ctx context.Context) (*station.Station, error) {
	return d.openWith(ctx, storage.Options{}, func(*station.Options) {})
}

// openWith does what open does, with options that change has changed. Where only the records
// are opened, the station has no readings.
func (d *daemon) openWith(ctx context.Context, of storage.Options, change func(*station.Options)) (*station.Station, error) {
	files, err := storage.Open(ctx, d.cfg.Station.Data, of)
	if err != nil {
		return nil, err
	}
	d.files = files
	entries, err := ledger.Open(files.Sealed())
	if err != nil {
		return nil, d.closeAfter(err)
	}
	alarms, err := alertlog.Open(files.Sealed())
	if err != nil {
		return nil, d.closeAfter(err)
	}
	if d.outbox, err = outbox.New(files.Sealed()); err != nil {
		return nil, d.closeAfter(err)
	}
	stores := station.Stores{Ledger: entries, Journal: d.outbox, AlarmLog: alarms}
	if of.RecordsOnly {
		err = d.openWithoutReadings(&stores)
	} else {
		err = d.openReadings(ctx, &stores)
	}
	if err != nil {
		return nil, d.closeAfter(err)
	}
	for _, damage := range files.Damages() {
		d.log.Error("a file was damaged", "file", damage.File, "err", damage)
	}
	d.bookBackup.Book, d.bookBackup.Mails, d.bookBackup.Now = stateSource{d.loop}.Book, d.outbox, d.time.now
	d.bookBackup.Post = commandSink{d.loop}.Post
	boot, err := d.time.begin(d.history)
	if err != nil {
		return nil, d.closeAfter(err)
	}
	o := station.Options{
		Plan:          d.plan,
		Boot:          boot,
		Version:       d.build.Version,
		ForecastEvery: 10 * time.Minute,

		Stores: stores,

		Worker:  d.loop.runJob,
		OnEvent: d.logEvent,
		Log:     func(err error) { d.log.Error("stored readings cannot be read", "err", err) },
		Urgent:  d.sendUnwritten,

		Free:   files.Free,
		Size:   files.Bytes,
		Copies: d.bookBackup.All,
	}
	o.Troubles = d.sending.deliveries.all
	if d.cfg.Station.Heartbeat != nil {
		o.Heartbeat = d.sending.deliveries.lastHeartbeat
	}
	change(&o)
	if _, _, err := d.bookBackup.ReadMailStatus(ctx); err != nil {
		return nil, d.closeAfter(err)
	}
	if o.Visit {
		d.bookBackup.ReadFolderStatus()
	}
	s, err := station.New(ctx, o, d.time.now())
	if err != nil {
		return nil, d.closeAfter(err)
	}
	return s, nil
}

// openReadings opens the history and the windows that were computed of it.
func (d *daemon) openReadings(ctx context.Context, stores *station.Stores) error {
	windows, err := forecastlog.Open(d.files.Sealed())
	if err != nil {
		return err
	}
	readings, err := d.files.Readings(ctx)
	if err != nil {
		return err
	}
	if d.history, err = history.Open(readings, history.Options{GapLimit: d.plan.GapLimit()}); err != nil {
		return err
	}
	stores.History, stores.Derived, stores.Shown = placedHistory{d.history, d.files.InPlace}, history.DerivedOf(d.history), windows
	return nil
}

// openWithoutReadings gives a station an empty history. It keeps no windows, because they come
// from readings. The time is not before the last entry: a clock that is not set yet may be.
func (d *daemon) openWithoutReadings(stores *station.Stores) error {
	d.history = history.Memory(history.Options{GapLimit: d.plan.GapLimit()})
	stores.History = d.history
	entries, err := stores.Ledger.Load()
	if err != nil || len(entries) == 0 {
		return err
	}
	return d.time.raise(entries[len(entries)-1].Recorded)
}

// closeAfter closes the files that are open, after an error that stops the start.
func (d *daemon) closeAfter(err error) error { return errors.Join(err, d.close()) }

func (d *daemon) close() error {
	if d.files == nil {
		return nil
	}
	if err := d.files.Close(); err != nil {
		return fmt.Errorf("closing the files: %w", err)
	}
	return nil
}

// logFailure logs the error of a step. It logs the same error once an hour. The station
// goes on, and its own alarms tell people.
func (d *daemon) logFailure(err error) {
	last := &d.lastFailure
	last.mu.Lock()
	defer last.mu.Unlock()
	text, up := err.Error(), d.time.uptime()
	if text == last.text && up-last.uptime < time.Hour {
		return
	}
	last.text, last.uptime = text, up
	d.log.Error("a step failed", "err", err)
}

// sendUnwritten delivers messages from memory that could not be written to the card.
func (d *daemon) sendUnwritten(alarms []alert.Alarm, messages []alert.Message) {
	if d.sending.overflow == nil {
		return
	}
	if err := d.sending.overflow.Take(context.Background(), alarms, messages); err != nil {
		d.logFailure(err)
	}
}

// afterStep runs after each step of the station. It wakes the courier, sets the lamps and
// passes on a better date of the boot.
func (d *daemon) afterStep(s *station.Station) {
	if s.TakePosted() && d.sending.wake != nil {
		d.sending.wake()
	}
	if err := d.lamps.Show(s.Standing); err != nil {
		d.logFailure(err)
	}
	date, redated, err := d.time.update()
	if err != nil {
		d.logFailure(err)
		return
	}
	if !redated {
		return
	}
	d.log.Info("a better clock corrected the start of this boot", "start", date.Start, "moved", date.Start.Sub(s.Boot().Start), "synchronised", date.Synchronised)
	if err := s.Date(context.Background(), date.Start, date.Bound, date.Synchronised); err != nil {
		d.logFailure(err)
	}
}
