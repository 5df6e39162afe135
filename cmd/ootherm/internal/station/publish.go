package station

import (
	"context"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/station/published"
)

// snapshot is the station's state as of now.
func (s *Station) snapshot() *snapshot.Snapshot {
	work := s.losses.Of(s.book, s.now)
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
			LastPoll: snapshot.OptTime(s.conditions.LastPoll()), PollSeconds: s.o.Plan.Every.Seconds(),
		},
	}
	n.Health.Waiting, n.Health.OldestWaiting, n.Health.Deliveries = s.journal.Waiting(context.Background())
	s.sinceFirstFailure(n.Health.Deliveries)
	if s.boot.Synchronised {
		n.Station.Clock = "synchronised"
	}
	for _, z := range s.conditions.Zones {
		x := published.Zone(z, s.rules.View.Zone(z.Plan.Name), s.now)
		x.LearningUntil = snapshot.OptTime(s.rules.LearningUntil(&s.rules.View, x.Zone))
		n.Zones = append(n.Zones, x)
	}
	n.Known, n.Alarms = published.Alarms(s.panel, s.now, s.messages.Publish)
	n.Pending = published.Pending(s.panel)
	return n
}

// sinceFirstFailure takes the first failed try of a sender as the time since when its alarms
// do not get out. After a start, until the first try, it stays the time of the oldest message.
func (s *Station) sinceFirstFailure(deliveries []snapshot.Delivery) {
	failures := s.o.failures()
	for i, d := range deliveries {
		if x := failures[d.Sender]; d.AlarmsFailSince != nil && x.Err != "" && x.Since.After(*d.AlarmsFailSince) {
			deliveries[i].AlarmsFailSince = &x.Since
		}
	}
}
