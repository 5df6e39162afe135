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
	"example.com/ootherm/cmd/ootherm/internal/dialer"
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

// Options say which probe to calibrate, and where to ask.
type Options struct {
	Config string
	Probe  string
	Build  daemon.Build
	In     io.Reader
	Out    io.Writer
	Now    func() time.Time

	wait func(context.Context, time.Duration) error // between two readings
}

// A probe has settled when its last readings lie this close together, the first third of
// them to the last third. All figures are our choice.
const (
	settledReadings = 12
	settledKelvin   = 0.03
	settledRatio    = 0.003
	maxReadings     = 360 // an hour at the default interval
)

// Run asks for an ice point, points of a trusted thermometer and salt points, and notes the
// calibration in the book.
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
	if s.measure, err = s.open(ctx, c, plan, c.Probes[at]); err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.close()) }()
	points, err := s.takePoints(ctx)
	if err != nil {
		return err
	}
	if len(points) == 0 {
		s.t.Say("No point was taken; nothing was written.")
		return nil
	}
	return s.note(ctx, points)
}

// session is one calibration in progress.
type session struct {
	o       Options
	t       *prompt.Session
	r       words.Reader
	every   time.Duration
	measure func(context.Context) (sensor.Measurement, error) // the next raw reading
	close   func() error
	line    calibration.Line // correction of temperature: the one before, then the new one
	first   time.Time        // of the probe's first reading; zero: there is none
}

// open finds out where the readings come from: the running station, or the probe itself
// where none runs. It also finds the correction of temperature that holds now.
func (s *session) open(ctx context.Context, c config.Config, plan plan.Plan, p config.Probe) (func(context.Context) (sensor.Measurement, error), error) {
	if err := s.readBook(ctx, plan, p); err != nil {
		return nil, err
	}
	running, err := client.Running(ctx, c.Station.Data, s.r)
	if err != nil {
		return nil, err
	}
	if running != nil {
		s.close = running.Close
		s.t.Say("The running station reads it.")
		return s.fromStation(running, p.Name), nil
	}
	buses, err := probeconfig.Buses([]config.Probe{p}, s.o.Now, dialer.New())
	if err != nil {
		return nil, err
	}
	probes, closeBus, err := buses[0].Open(ctx)
	if err != nil {
		return nil, err
	}
	s.close = closeBus
	s.t.Say("No station runs; the probe is read from here.")
	return func(ctx context.Context) (sensor.Measurement, error) {
		x := inventory.Measure(ctx, probes[0])
		return x.Measurement, x.Err
	}, nil
}

// readBook asks the station for the probe's correction and its first reading.
func (s *session) readBook(ctx context.Context, plan plan.Plan, p config.Probe) error {
	asked, err := client.Dial(ctx, s.o.Config, s.o.Build)
	if err != nil {
		return err
	}
	b, err := asked.Book(ctx)
	if err == nil {
		s.first, _, err = asked.First(ctx, p.Name)
		if errors.As(err, new(*usererr.Error)) {
			err = nil // the station does not know a probe in no zone that never gave a reading
		}
	}
	if err := errors.Join(err, asked.Close()); err != nil {
		return err
	}
	s.line = station.TimelineOf(plan, b).At(p.Name, s.o.Now()).Temperature
	return nil
}

// maxWaits is how often a session waits for a new reading of the station, a third of its
// interval each time (our choice).
const maxWaits = 10

// fromStation gives the running station's readings of a probe, each of them once.
func (s *session) fromStation(running *client.Client, probe string) func(context.Context) (sensor.Measurement, error) {
	last := s.o.Now().Add(-3 * s.every)
	return func(ctx context.Context) (sensor.Measurement, error) {
		m, at, err := running.Latest(ctx, probe, last)
		for n := 0; err == nil && !at.After(last) && n < maxWaits; n++ {
			if err = s.o.wait(ctx, s.every/3); err == nil {
				m, at, err = running.Latest(ctx, probe, last)
			}
		}
		if err != nil {
			return sensor.None(), err
		}
		if !at.After(last) {
			return sensor.None(), sensor.Fail(sensor.NoAnswer, "the station has no new reading of %s", probe)
		}
		last = at
		return m, nil
	}
}

// takePoints takes the points that the breeder chooses.
func (s *session) takePoints(ctx context.Context) ([]book.Point, error) {
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
		reference, err := s.askReference()
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
			t.Say("At %s it reads %s, corrected %s.", s.hundredths(p.Reference), s.hundredths(p.Read), s.hundredths(line.At(p.Read)))
		}
		s.warn(warnings, s.r.Temperature, s.r.Difference)
	}
	salts, err := s.takeSaltPoints(ctx)
	return append(points, salts...), err
}

// hundredths formats a temperature with two decimals.
func (s *session) hundredths(celsius float64) string {
	if s.r.Units == words.Fahrenheit {
		return fmt.Sprintf("%.2f °F", sensor.ToFahrenheit(celsius))
	}
	return fmt.Sprintf("%.2f °C", celsius)
}

// askReference asks for the reading of a trusted thermometer in Celsius; NaN for none.
func (s *session) askReference() (float64, error) {
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
			v = sensor.FromFahrenheit(v)
		}
		if err == nil && v >= -20 && v <= 60 {
			return v, nil
		}
		s.t.Say("%q is no temperature between %s and %s; write a number.", text, s.r.Temperature(-20), s.r.Temperature(60))
	}
}

// takeSaltPoints takes humidity points over damp salts, where the probe measures humidity.
func (s *session) takeSaltPoints(ctx context.Context) ([]book.Point, error) {
	t := s.t
	now, err := s.measure(ctx)
	if now.Lacking != nil {
		t.Say("Its humidity cannot be compared: %v.", now.Lacking)
	}
	if err != nil || math.IsNaN(now.Humidity) {
		return nil, nil // it is a thermometer, or it does not answer, which was shown before
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
				s.hundredths(celsius), s.r.Temperature(calibration.SaltFrom), s.r.Temperature(calibration.SaltTo))
			continue
		}
		p := calibration.Point{Read: air.AtTemperature(max(got.Humidity, 0), got.Celsius, celsius)} // at the corrected temperature
		if p.Reference, err = salt.Humidity(celsius); err != nil {
			return nil, err
		}
		fit = append(fit, p)
		points = append(points, book.Point{ReferenceRH: &p.Reference, ReadRH: &p.Read})
		t.Say("Over %s at %s the air has %.1f %%; the probe reads %.1f %% there.", salt, s.hundredths(celsius), p.Reference*100, p.Read*100)
	}
	if len(fit) == 0 {
		return nil, nil
	}
	_, warnings, err := calibration.Humidity(fit...)
	percent := func(ratio float64) string { return fmt.Sprintf("%.1f %%", ratio*100) }
	s.warn(warnings, percent, percent)
	return points, err
}

// errInterrupted is the error of Ctrl-C while the readings settle.
var errInterrupted = usererr.New("stopped while the probe settled; nothing was written")

// whyNotFrom says why a calibration cannot hold from a day on; empty where it can.
func (s *session) whyNotFrom(day, now time.Time) string {
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

// note asks from when the calibration holds, and notes it in the book.
func (s *session) note(ctx context.Context, points []book.Point) error {
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
			wrong = s.whyNotFrom(day, e.At)
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
	s.t.Say("It is in the book as %s; the raw readings stay as they are, and the windows are worked out again.", e.Key)
	return nil
}
