package published

import (
	"slices"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/conditions"
	"example.com/ootherm/sensor/air"
	"example.com/ootherm/sensor/zone"
	"example.com/ootherm/thermal/book"
	"example.com/ootherm/thermal/track"
)

// Boxes publishes the boxes in use with their groups, each as clutch publishes it. A group
// that is over stays until its box is emptied. Media are by box.
func Boxes(b book.Book, groups []*track.Group, c *conditions.Conditions, now time.Time, media map[string]*snapshot.Medium, clutch func(*track.Group) snapshot.Clutch) []snapshot.Box {
	all := []snapshot.Box{}
	for _, x := range b.Boxes() {
		if !x.InUse {
			continue
		}
		n := snapshot.Box{Box: x.ID, Zone: x.Zone, Probe: snapshot.OptText(x.Probe), Offset: x.Offset, Medium: media[x.ID], Clutches: []snapshot.Clutch{}}
		if p := c.Probes[x.Probe]; p != nil && !listed(c, p) {
			x := probe(p, now)
			n.Measured = &x
		}
		for _, g := range groups {
			if g.Box != x.ID || !g.In(x) {
				continue
			}
			n.Condensing = n.Condensing || condensing(g.Stays, c, now)
			n.Clutches = append(n.Clutches, clutch(g))
		}
		all = append(all, n)
	}
	return all
}

// listed reports whether a zone lists a probe.
func listed(c *conditions.Conditions, p *zone.Probe) bool {
	return slices.ContainsFunc(c.Zones, func(z *conditions.Zone) bool { return slices.Contains(z.Probes, p) })
}

// warmsWithin is how long after a move a box has taken on the warmth of its new place (our
// choice).
const warmsWithin = 2 * time.Hour

// condensing reports whether a box came lately from a place that is colder than the dew
// point of the zone it is in.
func condensing(stays []book.Stay, c *conditions.Conditions, now time.Time) bool {
	if len(stays) < 2 {
		return false
	}
	was, is := stays[len(stays)-2], stays[len(stays)-1]
	z := c.Zone(is.Zone)
	if was.Zone == is.Zone || !is.To.IsZero() || now.Sub(is.From) > warmsWithin || z == nil {
		return false
	}
	h, ok := humidity(z, now)
	surface := c.Celsius(track.SourceOf(was), now) + was.Offset
	return ok && surface < air.DewPoint(z.Celsius(now), h)
}
