package station

import (
	"slices"

	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/sensor/calibration"
	"example.com/ootherm/thermal/book"
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

// updateCorrections takes the calibrations from the book as it is now. Exposures that come
// from a probe whose correction changed are rebuilt.
func (s *Station) updateCorrections() {
	before := s.corrections.Load()
	next := TimelineOf(s.plan, s.book)
	s.corrections.Store(&next)
	if before == nil {
		return
	}
	changed := map[sourceID]bool{}
	for _, probe := range next.Changed(*before) {
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
	s.rules.ForgetExposures()
}
