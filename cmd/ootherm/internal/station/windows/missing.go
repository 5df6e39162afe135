package windows

import (
	"math"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/thermal"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/forecast"
	"example.com/ootherm/thermal/track"
)

// missing is what a group that waits lacks for a window; empty where it has one or is late.
func (w *Windows) missing(g *track.Group, h forecast.Hatch) []string {
	all := []string{}
	if !g.Waiting || h.Rate != nil && h.Window.Exists() {
		return all
	}
	p, known := w.o.Plan.Profile(g.Profile)
	switch {
	case g.Profile == "":
		all = append(all, snapshot.MissingKind)
	case !known:
		all = append(all, snapshot.UnknownKind)
	default:
		if _, err := w.Prior(p); err != nil {
			all = append(all, snapshot.MissingModel)
		}
	}
	if g.Arrested {
		all = append(all, snapshot.MissingResumption)
	}
	source := track.SourceOf(book.Stay{Probe: g.Probe, Zone: g.Zone})
	switch {
	case g.Zone == "":
		all = append(all, snapshot.MissingZone)
	case w.conditions.Climate(source) == nil:
		all = append(all, snapshot.MissingSource)
	case math.IsNaN(w.conditions.Celsius(source, w.now)):
		all = append(all, snapshot.MissingReading)
	}
	switch {
	case len(all) > 0:
	case h.Rate == nil:
		all = append(all, snapshot.MissingHistory)
	case h.Window.None == thermal.TooColdReason:
		all = append(all, snapshot.MissingWarmth)
	default:
		all = append(all, snapshot.MissingReading)
	}
	return all
}
