// Package calibrate is the dialogue that compares a probe with ice, a thermometer or a
// salt, and notes the result in the book. It must not know how a correction is applied
// (sensor/calibration does that), or how the book is stored.
package calibrate

import (
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/prompt"
	"example.com/ootherm/cmd/ootherm/internal/station"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/air"
	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/sensor/i2cbus"
	"example.com/ootherm/sensor/inventory"
	"example.com/ootherm/thermal/book"
)

// Options are a session that compares one probe with known points.
type Options struct {
	Config string
	Probe  string
	Build  daemon.Build
	In     io.Reader
	Out    io.Writer
	Now    func() time.Time

	wait func(context.Context, time.Duration) error // between two readings
}

// Settling, all our choice: the last readings lie this close, the first third of
// them to the last. A probe that is not at rest by then will not be.
const (
	settling    = 12 // readings
	stillKelvin = 0.03
	stillRatio  = 0.003
	unsettled   = 360 // readings: an hour at the usual pace
)

// Run walks through the ice point, a thermometer that is trusted, and salt
// points, and writes what came of it into the book.
func Run(ctx context.Context, o Options) (err error) {
	if o.wait == nil {
		o.wait = i2cbus.Wait
	}
	c, err := config.Load(o.Config, probeconfig.Drivers())
	if err != nil {
		return err
	}
	plan, err := plan.FromConfig(c)
	if err != nil {
		return err
	}
	at := slices.IndexFunc(c.Probes, func(p config.Probe) bool { return p.Name == o.Probe })
	if at < 0 {
		var names []string
		for _, p := range c.Probes {
			names = append(names, p.Name)
		}
		return usererr.Usage(fmt.Errorf("the configuration has no probe %q; it has %s", o.Probe, words.List(names)))
	}
	reader := words.Reader{Units: plan.Units, Place: plan.Location}
	s := &session{o: o, t: prompt.New(ctx, o.In, o.Out), r: reader, every: plan.Every}
	if s.gauge, err = s.open(ctx, c, plan, c.Probes[at]); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.close()) }()
	points, err := s.walk(ctx)
	if err != nil {
		return err
	}
	if len(points) == 0 {
		s.t.Say("No point was taken; nothing was written.")
		return nil
	}
	return s.write(ctx, points)
}

// session is one calibration as it goes on.
type session struct {
	o     Options
	t     *prompt.Session
	r     words.Reader
	every time.Duration
	gauge func(context.Context) (sensor.Measurement, error) // the next raw reading
	close func() error
	line  calibration.Line // of temperature: what held before, then what this session found
	first time.Time        // the probe's first reading; zero: none is kept
}

// open finds where the readings come from: the running station, or the probe
// itself when none runs; and which correction of temperature holds.
func (s *session) open(ctx context.Context, c config.Config, plan plan.Plan, p config.Probe) (func(context.Context) (sensor.Measurement, error), error) {
	asked, err := client.Dial(ctx, s.o.Config, s.o.Build)
	if err != nil {
		return nil, err
	}
	b, err := asked.Book(ctx)
	if err == nil {
		s.first, _, err = asked.First(ctx, p.Name)
		if errors.As(err, new(*usererr.Error)) {
			err = nil // it knows no probe that is in no zone and never gave a reading
		}
	}
	if err := errors.Join(err, asked.Close()); err != nil {
		return nil, err
	}
	s.line = station.TimelineOf(plan, b).At(p.Name, s.o.Now()).Temperature
	there, err := client.Running(ctx, c.Station.Data, s.r)
	if err != nil {
		return nil, err
	}
	if there != nil {
		s.close = there.Close
		s.t.Say("The running station reads it.")
		last := s.o.Now().Add(-3 * s.every)
		return func(ctx context.Context) (sensor.Measurement, error) {
			m, at, err := there.Latest(ctx, p.Name, last)
			for tries := 0; err == nil && !at.After(last) && tries < 10; tries++ {
				if err = s.o.wait(ctx, s.every/3); err == nil {
					m, at, err = there.Latest(ctx, p.Name, last)
				}
			}
			if err != nil {
				return sensor.None(), err
			}
			if !at.After(last) {
				return sensor.None(), sensor.Fail(sensor.NoAnswer, "the station has no new reading of %s", p.Name)
			}
			last = at
			return m, nil
		}, nil
	}
	wires, err := probeconfig.Buses([]config.Probe{p}, s.o.Now)
	if err != nil {
		return nil, err
	}
	probes, shut, err := wires[0].Open(ctx)
	if err != nil {
		return nil, err
	}
	s.close = shut
	s.t.Say("No station runs; the probe is read from here.")
	return func(ctx context.Context) (sensor.Measurement, error) {
		x := inventory.Measure(ctx, probes[0])
		return x.Measurement, x.Err
	}, nil
}

// walk takes the points that the breeder wants.
func (s *session) walk(ctx context.Context) ([]book.Point, error) {
	t := s.t
	t.Say("Take the probe from its place; switch its zone off for work on the page first,")
	t.Say("or its alarms will call. Until it is back its box counts as warm as the probe.")
	t.Say("3.3 V only on the Pi's pins: unplug nothing while it has power.")
	var points []book.Point
	var celsius []calibration.Point
	ice, err := t.Yes("Is there an ice bath to compare it with")
	if err != nil {
		return nil, err
	}
	if ice {
		t.Say("Ice point: shaved ice of distilled water packed tight, water only in the voids;")
		t.Say("the probe in a thin bag, in the middle, for 30 min (NIST 1995; ASTM E563).")
		got, err := s.settle(ctx, "Enter when it has been in for 30 min")
		if err != nil {
			return nil, err
		}
		celsius = append(celsius, calibration.Point{Reference: calibration.IcePoint, Read: got.Celsius})
	}
	for {
		reference, err := s.trusted()
		if err != nil {
			return nil, err
		}
		if math.IsNaN(reference) {
			break
		}
		got, err := s.settle(ctx, "Enter when both have been side by side in stirred water, the probe bagged, for 15 min")
		if err != nil {
			return nil, err
		}
		celsius = append(celsius, calibration.Point{Reference: reference, Read: got.Celsius})
	}
	if len(celsius) > 0 {
		line, warnings, err := calibration.Temperature(celsius...)
		if err != nil {
			return nil, err
		}
		s.line = line
		for _, p := range celsius {
			points = append(points, book.Point{ReferenceC: &p.Reference, ReadC: &p.Read})
			t.Say("At %s it reads %s, corrected %s.", s.fine(p.Reference), s.fine(p.Read), s.fine(line.At(p.Read)))
		}
		s.warn(warnings, s.r.Temperature, s.r.Difference)
	}
	humid, err := s.salts(ctx)
	return append(points, humid...), err
}

// fine is a temperature to a hundredth.
func (s *session) fine(celsius float64) string {
	if s.r.Units == words.Fahrenheit {
		return fmt.Sprintf("%.2f °F", celsius*1.8+32)
	}
	return fmt.Sprintf("%.2f °C", celsius)
}

// trusted asks for what another thermometer shows; NaN for none.
func (s *session) trusted() (float64, error) {
	unit := "C"
	if s.r.Units == words.Fahrenheit {
		unit = "F"
	}
	for {
		text, err := s.t.Ask("A thermometer you trust shows, in " + unit + " (Enter: no such point)")
		if err != nil || text == "" {
			return math.NaN(), err
		}
		v, err := prompt.Degrees(text, unit)
		if unit == "F" {
			v = (v - 32) / 1.8
		}
		if err == nil && v >= -20 && v <= 60 {
			return v, nil
		}
		s.t.Say("%q is no temperature between %s and %s; write a number.", text, s.r.Temperature(-20), s.r.Temperature(60))
	}
}

// salts takes humidity points over damp salts, if the probe measures humidity.
func (s *session) salts(ctx context.Context) ([]book.Point, error) {
	t := s.t
	now, err := s.gauge(ctx)
	if now.Lacking != nil {
		t.Say("Its humidity cannot be compared: %v.", now.Lacking)
	}
	if err != nil || math.IsNaN(now.Humidity) {
		return nil, nil // a thermometer; one that does not answer now has told so
	}
	var points []book.Point
	var fit []calibration.Point
	for {
		text, err := t.Ask("Is there a salt to compare its humidity with: NaCl (table salt), K2SO4, KCl, MgCl2, LiCl (Enter: none)")
		if err != nil {
			return nil, err
		}
		if text == "" {
			break
		}
		salt := calibration.Salt(text)
		if _, err := salt.Humidity(20); err != nil {
			t.Say("%s.", err)
			continue
		}
		if salt == calibration.LithiumChloride {
			t.Say("Lithium chloride is harmful if swallowed: gloves, no kitchenware, away from animals.")
			t.Say("Table salt and potassium sulphate suffice at home.")
		}
		t.Say("Salt point: a damp slurry, more salt than water, in a small sealed box with the probe")
		t.Say("above it and not touching, at a steady temperature for 1 h (Greenspan 1977).")
		got, err := s.settle(ctx, "Enter when it has been shut for 1 h")
		if err != nil {
			return nil, err
		}
		celsius := s.line.At(got.Celsius)
		if celsius < calibration.SaltFrom || celsius > calibration.SaltTo {
			t.Say("It is %s there, and the tables of salts are for %s to %s; do it in a warmer or cooler room.",
				s.fine(celsius), s.r.Temperature(calibration.SaltFrom), s.r.Temperature(calibration.SaltTo))
			continue
		}
		p := calibration.Point{Read: air.AtTemperature(max(got.Humidity, 0), got.Celsius, celsius)} // as a correction has it
		if p.Reference, err = salt.Humidity(celsius); err != nil {
			return nil, err
		}
		fit = append(fit, p)
		points = append(points, book.Point{ReferenceRH: &p.Reference, ReadRH: &p.Read})
		t.Say("Over %s at %s the air has %.1f %%; the probe reads %.1f %% there.", salt, s.fine(celsius), p.Reference*100, p.Read*100)
	}
	if len(fit) == 0 {
		return nil, nil
	}
	_, warnings, err := calibration.Humidity(fit...)
	percent := func(ratio float64) string { return fmt.Sprintf("%.1f %%", ratio*100) }
	s.warn(warnings, percent, percent)
	return points, err
}

// warn tells what a fit is worth, its figures as value and difference write them.
func (s *session) warn(all []calibration.Warning, value, difference func(float64) string) {
	for _, w := range all {
		s.t.Say("Think of: %s.", w.Say(value, difference))
	}
}

// errBrokenOff is the end of a session by Ctrl-C while readings settled.
var errBrokenOff = usererr.New("stopped while the probe settled; nothing was written")

// settle shows the readings until they rest, and gives their mean.
func (s *session) settle(ctx context.Context, when string) (sensor.Measurement, error) {
	if _, err := s.t.Ask(when); err != nil {
		return sensor.None(), err
	}
	var celsius, humidity []float64
	var last error
	for n := range unsettled {
		if n > 0 {
			if err := s.o.wait(ctx, s.every); err != nil {
				return sensor.None(), errBrokenOff
			}
		}
		m, err := s.gauge(ctx)
		if ctx.Err() != nil {
			return sensor.None(), errBrokenOff
		}
		if last = err; err != nil {
			s.t.Say("  no reading: %s", err)
			continue
		}
		celsius, humidity = tail(append(celsius, m.Celsius)), tail(append(humidity, m.Humidity))
		c, err := calibration.Settled(celsius, stillKelvin)
		wet, damp := math.NaN(), error(nil)
		line := "  " + s.fine(m.Celsius)
		if !math.IsNaN(m.Humidity) {
			wet, damp = calibration.Settled(humidity, stillRatio)
			line += fmt.Sprintf(", %.1f %%", m.Humidity*100)
		}
		still := len(celsius) == settling && err == nil && damp == nil
		if !still {
			s.t.Say("%s, settling", line)
			continue
		}
		s.t.Say("%s, at rest", line)
		return sensor.Measurement{Celsius: c, Humidity: wet}, nil
	}
	if last != nil {
		return sensor.None(), fmt.Errorf("the probe gave no value: %w; nothing was written", last)
	}
	return sensor.None(), usererr.New("the probe did not come to rest; nothing was written; see that the bath or box is closed and still, and begin again")
}

func tail(v []float64) []float64 { return v[max(0, len(v)-settling):] }

// since is why a calibration cannot hold from a day on, in words; empty where it can.
func (s *session) since(day, now time.Time) string {
	text := day.Format(time.DateOnly)
	first := s.first.In(day.Location())
	switch {
	case day.Before(client.Earliest):
		return text + " is before the year 2000"
	case day.After(now):
		return text + " is still to come"
	case !s.first.IsZero() && text < first.Format(time.DateOnly):
		return text + " is before its first reading, of " + first.Format(time.DateOnly)
	}
	return ""
}

// write asks from when the calibration holds, and notes it.
func (s *session) write(ctx context.Context, points []book.Point) error {
	e := book.Entry{Key: "calibrated-" + rand.Text(), At: s.o.Now().UTC().Truncate(time.Second), Kind: book.KindCalibrated, Probe: s.o.Probe, Points: points}
	for {
		text, err := s.t.Ask("Since when has the probe been off so? A date as 2026-04-01 (Enter: from now on)")
		if err != nil {
			return err
		}
		if text == "" {
			break
		}
		day, err := time.ParseInLocation(time.DateOnly, text, s.r.Place)
		wrong := fmt.Sprintf("%q is no day", text)
		if err == nil {
			wrong = s.since(day, e.At)
		}
		if wrong == "" {
			e.From = day
			break
		}
		s.t.Say("%s; write one up to today, as 2026-04-01.", wrong)
	}
	ok, err := s.t.Yes("Write this into the book")
	if err != nil {
		return err
	}
	if !ok {
		s.t.Say("Nothing was written.")
		return nil
	}
	line, err := json.Marshal(e)
	if err != nil {
		return fmt.Errorf("the entry: %w", err)
	}
	c, err := client.Dial(ctx, s.o.Config, s.o.Build)
	if err != nil {
		return err
	}
	if err := errors.Join(c.Note(ctx, append(line, '\n')), c.Close()); err != nil {
		return err
	}
	s.t.Say("It is in the book as %s; the raw readings stay as they are, the windows are reckoned anew.", e.Key)
	return nil
}
