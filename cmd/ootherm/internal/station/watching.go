package station

import (
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// Undelivered is what the last attempt of a sender came to.
type Undelivered struct {
	Since time.Time // of its first failure in a row
	Err   string    // of the last; empty: it got through
}

// copies are the ways the book leaves the card.
func (s *Station) copies() []snapshot.Copy {
	if s.o.Copies == nil {
		return []snapshot.Copy{}
	}
	return s.o.Copies()
}

// copyTrouble is why the book does not leave the card; empty where it does.
func (s *Station) copyTrouble() string {
	for _, c := range s.copies() {
		if c.Err != nil {
			return *c.Err
		}
	}
	return ""
}

// lookBack finds how long the station was off before it started. A boot whose
// time is not known says nothing of that.
func (s *Station) lookBack() {
	s.off = 0
	if !s.boot.Synchronised {
		return
	}
	for _, back := range [...]time.Duration{time.Hour, 24 * time.Hour, 30 * 24 * time.Hour} {
		var last time.Time
		for name, probe := range s.probes {
			for p, err := range s.o.History.Range(name, s.started.Add(-back), s.started) {
				if err != nil {
					s.reportRead(err)
					continue
				}
				last = later(last, p.At)
				if p.Believed() {
					probe.Earlier = later(probe.Earlier, p.At)
				}
			}
		}
		if !last.IsZero() {
			s.off = s.started.Sub(last)
			return
		}
	}
}
