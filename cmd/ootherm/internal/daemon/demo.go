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
	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/demo"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/simulated"
	"example.com/ootherm/thermal/book"
)

// Demo runs the invented season. Without a folder for its data it keeps them in
// one that is gone when the context ends.
func Demo(ctx context.Context, listen, data string, build Build, log *slog.Logger, ready func(address string)) (err error) {
	if data == "" {
		if data, err = os.MkdirTemp("", "ootherm-demo-"); err != nil {
			return fmt.Errorf("a folder for the demo: %w", err)
		}
		defer func() { err = errors.Join(err, os.RemoveAll(data)) }()
	}
	build.Date = time.Time{} // the season may lie before it
	m := &invented{}
	season, fresh, err := seasonIn(data)
	if err != nil {
		return err
	}
	c, err := config.Parse("demo", []byte(season.Config(listen, data)))
	if err != nil {
		return err
	}
	c.Station.Addressed = true // nobody prints its labels, but they can be looked at
	plan, err := plan.Of(c)
	if err != nil {
		return err
	}
	m.began = season.Began()
	if fresh {
		if err := live(ctx, c, plan, build, m, season); err != nil {
			return fmt.Errorf("making up the season: %w", err)
		}
		m.at = time.Time{}
	}
	d, err := Prepare(c, plan, build, m, log)
	if err != nil {
		return err
	}
	var wires []sensor.Bus
	for _, name := range demo.Probes() {
		measure := func(t time.Time) (sensor.Measurement, error) {
			x, on := season.Measure(name, t)
			if !on {
				return sensor.None(), sensor.Fail(sensor.NoAnswer, "the demo's power is off")
			}
			return x, nil
		}
		wires = append(wires, sensor.Bus{Name: "simulated " + name, Names: []string{name}, Open: func(context.Context) ([]sensor.Probe, func() error, error) {
			return []sensor.Probe{simulated.New(name, measure, d.time.now)}, nil, nil
		}})
	}
	return d.Run(ctx, wires, func(a net.Addr) { ready(a.String()) })
}

// invented is a machine that has run since the season began. While at is set,
// it is then.
type invented struct{ began, at time.Time }

func (m *invented) Boot() string { return "demo" }

func (m *invented) Read() (clock.Reading, error) {
	wall := m.at
	if wall.IsZero() {
		wall = time.Now().Round(0)
	}
	return clock.Reading{Wall: wall, Uptime: wall.Sub(m.began), Synchronised: true}, nil
}

// seasonIn is the season that a folder holds, or a new one.
func seasonIn(data string) (s demo.Season, fresh bool, err error) {
	path := filepath.Join(data, "demo-began")
	text, err := os.ReadFile(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		s = demo.New(time.Now())
		if err := os.MkdirAll(data, 0o750); err != nil {
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

// live lives the season up to now, at full speed. The station is off for as long
// as the power is, and starts anew after that.
func live(ctx context.Context, c config.Config, plan plan.Plan, build Build, m *invented, season demo.Season) error {
	entries, err := season.Book()
	if err != nil {
		return err
	}
	until := time.Now()
	for at := season.Began(); at.Before(until); {
		if season.Off(at) {
			at = season.Next(at)
			continue
		}
		m.at = at
		if at, entries, err = stretch(ctx, c, plan, build, m, season, entries, until); err != nil {
			return err
		}
	}
	return os.WriteFile(filepath.Join(c.Station.Data, "demo-began"), []byte(season.Began().Format(time.RFC3339)), 0o600)
}

// stretch lives from one start of the station to where the power goes. It gives
// the time it came to, and the entries still to come.
func stretch(ctx context.Context, c config.Config, plan plan.Plan, build Build, m *invented, season demo.Season, entries []book.Entry, until time.Time) (at time.Time, left []book.Entry, err error) {
	at = m.at
	d, err := Prepare(c, plan, build, m, slog.New(slog.DiscardHandler))
	if err != nil {
		return at, nil, err
	}
	s, err := d.openAs(ctx, func(o *station.Options) {
		o.Worker, o.OnEvent = nil, nil
		o.ReckonEvery, o.PublishEvery = 24*time.Hour, 24*time.Hour
	})
	if err != nil {
		return at, nil, err
	}
	defer func() { err = errors.Join(err, d.close()) }()
	for ; at.Before(until) && !season.Off(at) && ctx.Err() == nil; at = season.Next(at) {
		n := 0
		for n < len(entries) && !entries[n].At.After(at) {
			n++
		}
		// The breeder catches up on the book four times a day: each note has all
		// windows reckoned anew.
		if n > 0 && (at.Hour()%6 == 0 && at.Minute() < 5 || !season.Next(at).Before(until)) {
			if _, err := s.Note(ctx, book.NewDraft(entries[:n]...)); err != nil {
				return at, nil, err
			}
			entries = entries[n:]
		}
		if ago := until.Sub(at); at.Hour() == 8 && at.Minute() < 5 && ago > 12*time.Hour {
			// The morning's look at the page.
			for _, k := range s.Unacknowledged() {
				if err := s.Act(ctx, panel.Action{Do: "acknowledge", Alarm: k.String(), Who: "the demo's breeder"}); err != nil {
					return at, nil, err
				}
			}
		}
		var batch []sensor.Reading
		for _, name := range demo.Probes() {
			if x, on := season.Measure(name, at); on {
				batch = append(batch, sensor.Reading{
					Probe: name, Measurement: x, Stamp: sensor.Stamp{Boot: s.Boot().Number, Uptime: at.Sub(season.Began())},
				})
			}
		}
		if err := s.Observe(ctx, batch); err != nil {
			return at, nil, err
		}
	}
	return at, entries, errors.Join(ctx.Err(), s.Flush())
}
