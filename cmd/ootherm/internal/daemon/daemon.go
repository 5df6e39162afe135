// Package daemon opens the stores and runs a station over them: probes, the station's
// loop, page, senders, heartbeat. It stops them in reverse order. It must not compute
// anything that the station, a store or a sender owns.
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
	alertlog "example.com/ootherm/alert/log"
	"example.com/ootherm/alert/outbox"
	"example.com/ootherm/cmd/ootherm/internal/bookcopy"
	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/metrics"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/senders"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/cmd/ootherm/internal/web"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor/history"
	"example.com/ootherm/thermal/book/ledger"
	"example.com/ootherm/thermal/forecastlog"
)

// Build says which program this is.
type Build struct {
	Version string
	Date    time.Time // no clock is believed that shows an earlier time
}

// machine is the clocks of the machine the station runs on.
type machine interface {
	Boot() string
	Read() (clock.Reading, error)
}

// daemon is a station over its files, with everything that serves it.
type daemon struct {
	cfg      config.Config
	plan     plan.Plan
	build    Build
	log      *slog.Logger
	time     *timekeeper
	loop     *loop
	files    *storage.Files
	history  *history.Store
	outbox   *outbox.Store
	handler  http.Handler
	lamps    *senders.Lamps
	sent     deliveries
	copies   *bookcopy.Copier
	failing  sync.Mutex
	failure  string           // the last that was logged
	failedAt time.Duration    // and when, as uptime
	overflow *outbox.Overflow // nil where nothing is sent
	wake     func()           // the courier, after messages were committed; set before the station steps
}

// Prepare makes a daemon that has not opened its files yet.
func Prepare(cfg config.Config, plan plan.Plan, build Build, m machine, log *slog.Logger) (*daemon, error) {
	t, err := newTimekeeper(m, build.Date)
	if err != nil {
		return nil, err
	}
	d := &daemon{cfg: cfg, plan: plan, build: build, log: log, time: t, lamps: senders.LampsOf(cfg), copies: bookcopy.CopierOf(cfg, plan)}
	d.loop = newLoop(min(plan.Every, 10*time.Second), t.now, d.failed, d.stepped)
	exposition, err := metrics.New(published{d.loop}, build.Version)
	if err != nil {
		return nil, err
	}
	letIn, err := access(cfg)
	if err != nil {
		return nil, err
	}
	feed, err := calendarSecret(cfg.Station.Data)
	if err != nil {
		return nil, err
	}
	labelURL := ""
	if cfg.Station.Addressed {
		labelURL = plan.URL
	}
	d.handler, err = web.New(web.Options{
		Profiles: plan.ProfileNames(), EggG: plan.EggG, Access: letIn, Calendar: feed, Revisions: &feedNumber{path: filepath.Join(cfg.Station.Data, "calendar-sequence")},
		Source: published{d.loop}, Past: &past{d.loop}, Shown: &past{d.loop}, Writer: writer{d.loop}, Book: published{d.loop}, Paces: published{d.loop}.Paces, Incidents: &past{d.loop}, Backup: d.backup, Metrics: exposition,
		Reader: words.Reader{Units: plan.Units, Place: plan.Location, Today: t.now},
		URL:    plan.URL, LabelURL: labelURL, Every: plan.Every, Clock: t.now, Log: log,
	})
	if err != nil {
		return nil, err
	}
	return d, nil
}

// open opens the files and makes the station of them. It may take a while: the
// readings are checked first.
func (d *daemon) open(ctx context.Context) (*station.Station, error) {
	return d.openAs(ctx, func(*station.Options) {})
}

// openAs is open with other options.
func (d *daemon) openAs(ctx context.Context, change func(*station.Options)) (*station.Station, error) {
	files, err := storage.Open(ctx, d.cfg.Station.Data, storage.Options{})
	if err != nil {
		return nil, err
	}
	d.files = files
	entries, err := ledger.Open(files.Sealed())
	if err != nil {
		return nil, d.abandon(err)
	}
	windows, err := forecastlog.Open(files.Sealed())
	if err != nil {
		return nil, d.abandon(err)
	}
	alarms, err := alertlog.Open(files.Sealed())
	if err != nil {
		return nil, d.abandon(err)
	}
	if d.outbox, err = outbox.New(files.Sealed()); err != nil {
		return nil, d.abandon(err)
	}
	readings, err := files.Readings(ctx)
	if err != nil {
		return nil, d.abandon(err)
	}
	if d.history, err = history.Open(readings, history.Options{GapLimit: d.plan.GapLimit()}); err != nil {
		return nil, d.abandon(err)
	}
	for _, damage := range files.Damages() {
		d.log.Error("a file was damaged", "file", damage.File, "err", damage)
	}
	d.copies.Book, d.copies.Box, d.copies.Now = published{d.loop}.Book, d.outbox, d.time.now
	d.copies.Post = writer{d.loop}.Post
	boot, err := d.time.begin(d.history)
	if err != nil {
		return nil, d.abandon(err)
	}
	o := station.Options{
		Plan: d.plan, History: d.history, Ledger: entries, Journal: d.outbox, Shown: windows, Diary: alarms, Boot: boot, Version: d.build.Version,
		Worker: d.loop.work, OnEvent: d.logEvent, Log: func(err error) { d.log.Error("stored readings cannot be read", "err", err) }, Urgent: d.urgent, ReckonEvery: 10 * time.Minute,
		Free: files.Free, Size: files.Bytes, Troubles: d.sent.all, Copies: d.copies.All,
	}
	change(&o)
	if _, _, err := d.copies.StatusMail(ctx); err != nil {
		return nil, d.abandon(err)
	}
	if o.Visit {
		d.copies.StatusFolder()
	}
	s, err := station.New(ctx, o, d.time.now())
	if err != nil {
		return nil, d.abandon(err)
	}
	return s, nil
}

// abandon closes what was opened, when the rest cannot be.
func (d *daemon) abandon(err error) error { return errors.Join(err, d.close()) }

func (d *daemon) close() error {
	if d.files == nil {
		return nil
	}
	if err := d.files.Close(); err != nil {
		return fmt.Errorf("closing the files: %w", err)
	}
	return nil
}

// failed logs what a step of the station could not do: once an hour for as long
// as it is the same. The station goes on; its own alarms tell people.
func (d *daemon) failed(err error) {
	d.failing.Lock()
	defer d.failing.Unlock()
	text, up := err.Error(), d.time.uptime()
	if text == d.failure && up-d.failedAt < time.Hour {
		return
	}
	d.failure, d.failedAt = text, up
	d.log.Error("a step failed", "err", err)
}

// urgent delivers from memory what could not be written.
func (d *daemon) urgent(alarms []alert.Alarm, messages []alert.Message) {
	if d.overflow == nil {
		return
	}
	if err := d.overflow.Take(context.Background(), alarms, messages); err != nil {
		d.failed(err)
	}
}

// stepped follows each step of the station: messages to send, and the boot's
// date, once that is better known.
func (d *daemon) stepped(s *station.Station) {
	if s.TakePosted() && d.wake != nil {
		d.wake()
	}
	if err := d.lamps.Show(s.Standing); err != nil {
		d.failed(err)
	}
	date, anew, err := d.time.look()
	if err != nil {
		d.failed(err)
		return
	}
	if !anew {
		return
	}
	d.log.Info("the time is known better: this boot is dated anew", "start", date.Start, "moved", date.Start.Sub(s.Boot().Start), "synchronised", date.Synchronised)
	if err := s.Date(context.Background(), date.Start, date.Bound, date.Synchronised); err != nil {
		d.failed(err)
	}
}
