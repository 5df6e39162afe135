package station

import (
	"context"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/published"
)

// snapshot is the station's state as of now.
func (s *Station) snapshot() *snapshot.Snapshot {
	work := s.care.Of(s.book, s.now)
	n := &snapshot.Snapshot{
		At: s.now,
		Station: snapshot.Station{
			Name: s.o.Plan.Name, Version: s.o.Version, Clock: "unverified",
			UptimeSeconds: s.now.Sub(s.conditions.Started).Seconds(),
		},
		Zones:    []snapshot.Zone{},
		Boxes:    published.Boxes(s.book, s.exposures.Groups(), s.conditions, s.now, work.Media, s.windows.Clutch),
		Unplaced: published.Unplaced(s.book), Dams: work.Dams,
		Health: snapshot.Health{
			Flushed: s.flushes.last(), FlushFailing: s.flushes.failing, StorageBytes: s.o.storageBytes(),
			Polled: s.conditions.Polled(s.now), Silent: s.conditions.SilentBuses(s.now), Copies: s.o.copies(),
		},
	}
	n.Health.Waiting, n.Health.OldestWaiting, n.Health.Deliveries = s.journal.Waiting(context.Background())
	if s.boot.Synchronised {
		n.Station.Clock = "synchronised"
	}
	for _, z := range s.conditions.Zones {
		n.Zones = append(n.Zones, published.Zone(z, s.rules.View.Zone(z.Plan.Name), s.now))
	}
	n.Known, n.Alarms = published.Alarms(s.panel, s.now, s.messages.Publish)
	n.Pending = published.Pending(s.panel)
	return n
}
