package station

import (
	"context"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/snapshot"
)

// LookBack is what the page asks for.
func (s *Station) LookBack(ctx context.Context, from, to time.Time, zone string) (snapshot.Incident, error) {
	x, err := s.Retrospect().Incident(from, to, zone)
	if err != nil {
		return snapshot.Incident{}, err
	}
	return x.Look(ctx)
}
