package station

import (
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// TimelineOf gives the corrections of all probes: the offsets of the configuration, and
// the calibrations of the book in their place from when they hold.
func TimelineOf(p plan.Plan, b book.Book) calibration.Timeline {
	t := calibration.Timeline{}
	for _, probe := range p.Probes {
		var all []calibration.Calibration
		for _, x := range b.Calibrations(probe.Name) {
			c := calibrationOf(x.Points)
			c.From = x.From
			all = append(all, c)
		}
		t.Add(probe.Name, probe.Offset, all)
	}
	return t
}

// calibrationOf separates the points of a calibration in the book by what was compared.
func calibrationOf(points []book.Point) (c calibration.Calibration) {
	for _, p := range points {
		if p.ReferenceC != nil && p.ReadC != nil {
			c.Temperature = append(c.Temperature, calibration.Point{Reference: *p.ReferenceC, Read: *p.ReadC})
		}
		if p.ReferenceRH != nil && p.ReadRH != nil {
			c.Humidity = append(c.Humidity, calibration.Point{Reference: *p.ReferenceRH, Read: *p.ReadRH})
		}
	}
	return c
}

// updateCorrections takes the calibrations from the book as it is now. What comes from a
// probe whose correction changed is computed again.
func (s *Station) updateCorrections() {
	changed := map[track.Source]bool{}
	for _, probe := range s.past.Correct(TimelineOf(s.o.Plan, s.book)) {
		for _, src := range s.conditions.Sources(probe) {
			changed[src] = true
		}
	}
	if len(changed) == 0 {
		return
	}
	s.losses.Forget()
	s.exposures.ForgetSources(changed)
	s.conditions.RebuildClimates()
	s.rules.ForgetExposures()
}
