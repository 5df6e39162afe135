package daemon

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"time"

	"example.com/ootherm/alert/panel"
	"example.com/ootherm/cmd/ootherm/internal/atomicfile"
	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/demo"
	"example.com/ootherm/cmd/ootherm/internal/listener"
	"example.com/ootherm/cmd/ootherm/internal/permission"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/storage"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/simulated"
	"example.com/ootherm/thermal/book"
)

// Demo runs a station over a simulated season. If data names no folder, it uses a
// temporary one and removes it at the end. It calls listening with the page's address
// before it makes the season, and shows meanwhile how far that is. Other machines may look
// at the page, because all of it is invented, and write nothing.
func Demo(ctx context.Context, listen, data string, build Build, log *slog.Logger, listening func(address string)) (err error) {
	l, err := listenForDemo(ctx, listen)
	if err != nil {
		return err
	}
	page := &demoPage{}
	stop := listener.Serve(ctx, page, func(err error) { log.Error("the page", "err", err) }, l)
	defer stop()
	listening(l.Addr().String())
	if data == "" {
		if data, err = os.MkdirTemp("", "ootherm-demo-"); err != nil {
			return fmt.Errorf("a folder for the demo: %w", err)
		}
		defer func() { err = errors.Join(err, os.RemoveAll(data)) }()
	}
	build.Date = time.Time{} // the season may lie before the build
	m := &simulatedMachine{}
	season, fresh, err := loadSeason(data)
	if err != nil {
		return err
	}
	c, err := config.Parse("demo", []byte(season.Config(l.Addr().String(), data)), probeconfig.Drivers())
	if err != nil {
		return err
	}
	setReachableURL(&c.Station, NetworkAddresses())
	c.Station.Addressed = true // shows the labels' page
	c.Station.Notice = "All of this is invented."
	if c.Station.Open {
		c.Station.Notice += " Other machines can look at it; notes are taken on this machine alone."
	}
	plan, err := plan.FromConfig(c)
	if err != nil {
		return err
	}
	m.booted = season.Began()
	if fresh {
		r := seasonRun{config: c, plan: plan, build: build, machine: m, season: season, until: time.Now(), progress: page.setShare}
		if err := r.run(ctx); err != nil {
			if ctx.Err() != nil {
				return nil // it was ended
			}
			return fmt.Errorf("simulating the season: %w", err)
		}
		m.frozen = time.Time{}
	}
	d, err := Prepare(c, plan, build, m, log)
	if err != nil {
		return err
	}
	var buses []sensor.Bus
	for _, name := range demo.Probes() {
		measure := func(t time.Time) (sensor.Measurement, error) {
			x, on := season.Measure(name, t)
			if !on {
				return sensor.None(), sensor.Fail(sensor.NoAnswer, "the demo's power is off")
			}
			return x, nil
		}
		buses = append(buses, sensor.Bus{Name: "simulated " + name, Names: []string{name}, Open: func(context.Context) ([]sensor.Probe, func() error, error) {
			return []sensor.Probe{simulated.New(name, measure, d.time.now)}, nil, nil
		}})
	}
	return d.Run(ctx, buses, func(context.Context) (net.Addr, func(), error) {
		page.show(d.handler, func() bool { return stateSource{d.loop}.Now() != nil })
		return l.Addr(), func() {}, nil
	})
}

// simulatedMachine is a machine that has run since the season began.
type simulatedMachine struct {
	booted time.Time
	frozen time.Time // its present time while the season is simulated; zero: the real time
}

func (m *simulatedMachine) Boot() string { return "demo" }

func (m *simulatedMachine) Read() (clock.Reading, error) {
	wall := m.frozen
	if wall.IsZero() {
		wall = time.Now().Round(0)
	}
	return clock.Reading{Wall: wall, Uptime: wall.Sub(m.booted), Synchronised: true}, nil
}

// loadSeason returns the season that a folder holds. For an empty folder it returns a new
// season and reports true.
func loadSeason(data string) (s demo.Season, fresh bool, err error) {
	path := filepath.Join(data, "demo-began")
	text, err := os.ReadFile(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		s = demo.New(time.Now())
		if err := permission.OpenFolder(data); err != nil {
			return s, false, fmt.Errorf("the demo's folder: %w", err)
		}
		if others, err := os.ReadDir(data); err != nil || len(others) > 0 {
			return s, false, errors.Join(err, fmt.Errorf("%s is not empty and holds no demo; name another folder with --data", data))
		}
		return s, true, nil
	case err != nil:
		return s, false, fmt.Errorf("the demo's folder: %w", err)
	}
	began, err := time.Parse(time.RFC3339, string(text))
	if err != nil {
		return s, false, fmt.Errorf("%s: %w", path, err)
	}
	return demo.New(began.Add(demo.Days * 24 * time.Hour)), false, nil
}

// seasonRun simulates a season at full speed, up to a time.
type seasonRun struct {
	config  config.Config
	plan    plan.Plan
	build   Build
	machine *simulatedMachine
	season  demo.Season
	entries []book.Entry // not in the book yet, in the order of time
	until   time.Time
	// progress is told what share of the season is made, 0 to 1.
	progress func(share float64)
}

// run simulates the season. The station stops when the power fails and starts again when
// it is back. At the end, a file in the folder marks the season as complete.
func (r *seasonRun) run(ctx context.Context) (err error) {
	if r.entries, err = r.season.Book(); err != nil {
		return err
	}
	for at := r.season.Began(); at.Before(r.until); {
		if r.season.Off(at) {
			at = r.season.Next(at)
			continue
		}
		if at, err = r.untilPowerFails(ctx, at); err != nil {
			return err
		}
	}
	return atomicfile.WriteBytes(filepath.Join(r.config.Station.Data, "demo-began"), []byte(r.season.Began().Format(time.RFC3339)))
}

// untilPowerFails runs the station from a start at a time until the power fails or the
// simulation ends. It returns the time at which it stopped.
func (r *seasonRun) untilPowerFails(ctx context.Context, at time.Time) (_ time.Time, err error) {
	r.machine.frozen = at
	d, err := Prepare(r.config, r.plan, r.build, r.machine, slog.New(slog.DiscardHandler))
	if err != nil {
		return at, err
	}
	s, err := d.openWith(ctx, storage.Options{}, func(o *station.Options) {
		o.Worker, o.OnEvent = nil, nil
		o.ForecastEvery, o.PublishEvery = 24*time.Hour, 24*time.Hour
	})
	if err != nil {
		return at, err
	}
	defer func() { err = errors.Join(err, d.close()) }()
	for ; at.Before(r.until) && !r.season.Off(at) && ctx.Err() == nil; at = r.season.Next(at) {
		r.progress(at.Sub(r.season.Began()).Hours() / r.until.Sub(r.season.Began()).Hours())
		if err := r.noteEntries(ctx, s, at); err != nil {
			return at, err
		}
		if err := r.acknowledge(ctx, s, at); err != nil {
			return at, err
		}
		if err := s.Observe(ctx, r.readings(s.Boot().Number, at)); err != nil {
			return at, err
		}
	}
	return at, errors.Join(ctx.Err(), s.Flush())
}

// noteEntries adds the entries that are due to the book. It does so only four times a day
// and at the end, because the station computes all windows again after each note.
func (r *seasonRun) noteEntries(ctx context.Context, s *station.Station, at time.Time) error {
	n := 0
	for n < len(r.entries) && !r.entries[n].At.After(at) {
		n++
	}
	isLast := !r.season.Next(at).Before(r.until)
	if n == 0 || !isLast && (at.Hour()%6 != 0 || at.Minute() >= 5) {
		return nil
	}
	if _, err := s.Note(ctx, book.NewDraft(r.entries[:n]...)); err != nil {
		return err
	}
	r.entries = r.entries[n:]
	return nil
}

// acknowledge acknowledges all alarms each morning. It leaves the alarms of the last
// twelve hours for the visitor.
func (r *seasonRun) acknowledge(ctx context.Context, s *station.Station, at time.Time) error {
	if at.Hour() != 8 || at.Minute() >= 5 || r.until.Sub(at) <= 12*time.Hour {
		return nil
	}
	for _, k := range s.Unacknowledged() {
		if err := s.Act(ctx, panel.Action{Do: "acknowledge", Alarm: k.String(), Who: "the demo's breeder"}); err != nil {
			return err
		}
	}
	return nil
}

// readings returns what the season's probes measure at a time.
func (r *seasonRun) readings(boot uint32, at time.Time) []sensor.Reading {
	var batch []sensor.Reading
	for _, name := range demo.Probes() {
		if x, on := r.season.Measure(name, at); on {
			batch = append(batch, sensor.Reading{
				Probe: name, Measurement: x, Stamp: sensor.Stamp{Boot: boot, Uptime: at.Sub(r.season.Began())},
			})
		}
	}
	return batch
}
