package app

import (
	"context"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/app/now"
	"example.com/ootherm/thermal/book/review"
)

// LookBack is what the page asks for.
func (s *Station) LookBack(ctx context.Context, from, to time.Time, zone string) (now.Incident, error) {
	x, err := s.incident(from, to, zone)
	if err != nil {
		return now.Incident{}, err
	}
	return x.look(ctx)
}

// Paced is what the review asks for.
func (s *Station) Paced() map[string]review.Duration { return *s.paced.Load() }
