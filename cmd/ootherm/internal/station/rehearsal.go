package station

import (
	"fmt"

	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/rehearsal"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/cmd/ootherm/internal/words"
)

// Rehearsal is for rehearsing failures of a zone's heater.
func (h Retrospect) Rehearsal(zone string) (rehearsal.Query, error) {
	s := h.station
	z := s.rules.View.Zone(zone)
	if z == nil {
		var names []string
		for _, x := range s.o.Plan.Zones {
			names = append(names, x.Name)
		}
		return rehearsal.Query{}, usererr.New(fmt.Sprintf("the configuration has no zone %q; it has %s", zone, words.List(names)))
	}
	q := rehearsal.Query{Zone: zone, To: s.now, Place: s.o.Plan.Location, Means: s.past.Reader().Means}
	for _, high := range [...]bool{false, true} {
		for _, b := range [...]struct {
			name string
			band *rules.Band
		}{{"wanted", z.Wanted}, {"safe", z.Safe}} {
			if b.band.Has(high) {
				q.Limits = append(q.Limits, rehearsal.Limit{Band: b.name, Limit: b.band.Limit(high, 0)})
			}
		}
	}
	for _, p := range append(append([]*rules.Probe{}, z.Probes...), z.Boxed...) {
		q.Probes = append(q.Probes, p.Name)
	}
	return q, nil
}
