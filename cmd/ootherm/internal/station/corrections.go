package station

import (
	"math"
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/thermal/book"
)

// corrections are what is known of the errors of all probes: the offsets of the
// configuration, and from when they hold, the calibrations of the book in their
// place. They are applied whenever a reading is used and never stored with it,
// so that a calibration noted today reaches back to when it holds from.
type corrections map[string][]spell

// spell is a correction from a time on.
type spell struct {
	from time.Time
	calibration.Correction
}

// CorrectionsOf follows each probe through its calibrations. Temperature and
// humidity stand apart: a calibration at salt points leaves the ice point before
// it in force.
func CorrectionsOf(plan plan.Plan, b book.Book) corrections {
	all := corrections{}
	for _, p := range plan.Probes {
		c := calibration.Correction{Temperature: calibration.Line{Slope: 1, Offset: p.Offset}, Humidity: calibration.None()}
		spells := []spell{{Correction: c}}
		for _, x := range b.Calibrations(p.Name) {
			celsius, humidity := pointsOf(x.Points)
			if l, _, err := calibration.Temperature(celsius...); err == nil {
				c.Temperature = l
			}
			if l, _, err := calibration.Humidity(humidity...); err == nil {
				c.Humidity = l
			}
			spells = append(spells, spell{from: x.From, Correction: c})
		}
		all[p.Name] = spells
	}
	return all
}

// pointsOf parts a calibration's points by what was compared.
func pointsOf(points []book.Point) (celsius, humidity []calibration.Point) {
	for _, p := range points {
		if p.ReferenceC != nil && p.ReadC != nil {
			celsius = append(celsius, calibration.Point{Reference: *p.ReferenceC, Read: *p.ReadC})
		}
		if p.ReferenceRH != nil && p.ReadRH != nil {
			humidity = append(humidity, calibration.Point{Reference: *p.ReferenceRH, Read: *p.ReadRH})
		}
	}
	return celsius, humidity
}

// unfit is why a calibration's points give no correction, or nil.
func unfit(points []book.Point) error {
	celsius, humidity := pointsOf(points)
	if len(celsius) > 0 {
		if _, _, err := calibration.Temperature(celsius...); err != nil {
			return err
		}
	}
	if len(humidity) > 0 {
		if _, _, err := calibration.Humidity(humidity...); err != nil {
			return err
		}
	}
	return nil
}

// At is the correction of a probe at a time.
func (c corrections) At(probe string, at time.Time) calibration.Correction {
	spells := c[probe]
	for i := len(spells) - 1; i > 0; i-- {
		if !at.Before(spells[i].from) {
			return spells[i].Correction
		}
	}
	if len(spells) == 0 { // a probe of an earlier configuration
		return calibration.Correction{Temperature: calibration.None(), Humidity: calibration.None()}
	}
	return spells[0].Correction
}

// celsius is a raw temperature corrected.
func (c corrections) celsius(probe string, at time.Time, raw float64) float64 {
	return c.At(probe, at).Temperature.At(raw)
}

// measurement is a raw measurement corrected; humidity past saturation is
// saturation.
func (c corrections) measurement(probe string, at time.Time, raw sensor.Measurement) sensor.Measurement {
	m := c.At(probe, at).Apply(raw)
	if !math.IsNaN(m.Humidity) {
		m.Humidity = min(max(m.Humidity, 0), 1)
	}
	return m
}

// recorrect takes up the calibrations of the book as it is now. Exposures that
// rest on a probe whose correction changed are rebuilt.
func (s *Station) recorrect() {
	before := s.corrections.Load()
	next := CorrectionsOf(s.plan, s.book)
	s.corrections.Store(&next)
	if before == nil {
		return
	}
	changed := map[sourceID]bool{}
	for probe, spells := range next {
		if slices.Equal(spells, (*before)[probe]) {
			continue
		}
		for _, x := range s.feeds[probe] {
			changed[x.id] = true
		}
	}
	if len(changed) == 0 {
		return
	}
	for _, g := range s.groups() {
		if slices.ContainsFunc(g.Stays, func(x book.Stay) bool { return changed[sourceOf(x)] }) {
			s.dropTrack(g.Track)
		}
	}
	s.rebuildClimates()
	s.forgetDoses()
}
