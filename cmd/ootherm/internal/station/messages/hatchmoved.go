package messages

import (
	"math"

	"example.com/ootherm/alert"
	"example.com/ootherm/cmd/ootherm/internal/incident"
	"example.com/ootherm/cmd/ootherm/internal/notice"
	"example.com/ootherm/thermal/book"
)

// hatchMoved is by how many days an excursion that ended moved the hatch of the eggs that
// felt it: the figures of the incident of its span. It is nil where none is known.
func (m *Messages) hatchMoved(e alert.Event) *notice.Moved {
	k := e.Key
	if e.To == alert.Active || e.Gone || k.Kind != alert.TemperatureHigh && k.Kind != alert.TemperatureLow {
		return nil
	}
	felt := m.o.Past.Reader().Felt
	var moved *notice.Moved
	for _, g := range m.o.Exposures.Groups() {
		if !g.Waiting || !inZone(g.Stays, k.Zone, e) {
			continue
		}
		rate, err := m.o.Windows.Rate(g, m.o.Now())
		if err != nil {
			continue // it has no window either, and says why
		}
		x, err := incident.Felt(felt, g.Stays, e.Began, e.At)
		if err != nil {
			m.o.Past.Report(err)
			continue // the message goes without
		}
		days := x.MovedDays(rate)
		switch {
		case math.IsNaN(days):
		case moved == nil:
			moved = &notice.Moved{LeastDays: days, MostDays: days}
		default:
			moved.LeastDays, moved.MostDays = min(moved.LeastDays, days), max(moved.MostDays, days)
		}
	}
	return moved
}

// inZone reports whether eggs with these stays were in a zone during an alarm.
func inZone(stays []book.Stay, zone string, e alert.Event) bool {
	for _, s := range stays {
		if s.Zone == zone && s.From.Before(e.At) && (s.To.IsZero() || s.To.After(e.Began)) {
			return true
		}
	}
	return false
}
