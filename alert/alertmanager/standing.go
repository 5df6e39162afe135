package alertmanager

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
)

// Store keeps what stands over a restart of the station. Load gives nil where nothing was
// saved.
type Store interface {
	Load() ([]byte, error)
	Save([]byte) error
}

// standing is an alert that the receiver took and that is not over.
type standing struct {
	Key     string `json:"key"`               // of the alarm that it tells of; empty: of none
	Episode string `json:"episode,omitempty"` // empty: it belongs to none
	Alert   posted `json:"alert"`
}

// load reads what stood when the station stopped.
func (s *Sender) load() error {
	if s.c.Store == nil {
		return nil
	}
	text, err := s.c.Store.Load()
	if err != nil || text == nil {
		return err
	}
	if err := json.Unmarshal(text, &s.stands); err != nil {
		return fmt.Errorf("the alerts that stood before: %w", err)
	}
	return nil
}

// keep notes what a request that the receiver took began and ended.
func (s *Sender) keep(all []posted) error {
	before := maps.Clone(s.stands)
	for _, p := range all {
		if p.StartsAt == nil || p.key == "" {
			delete(s.stands, p.name())
			continue
		}
		s.stands[p.name()] = standing{p.key, p.Annotations["episode"], p}
	}
	if s.c.Store == nil || maps.EqualFunc(before, s.stands, func(a, b standing) bool { return a.Alert.EndsAt.Equal(b.Alert.EndsAt) && a.Key == b.Key }) {
		return nil
	}
	text, err := json.Marshal(s.stands)
	if err != nil {
		return err
	}
	return s.c.Store.Save(text)
}

// Refresh posts again every alert that stands, so that a receiver that was started again has
// it, and none ends by its own time. Stands tells by the key of an alarm whether its cause
// still holds; an alert of another alarm is left to end.
func (s *Sender) Refresh(ctx context.Context, stands func(key string) bool) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var all []posted
	for _, name := range slices.Sorted(maps.Keys(s.stands)) {
		x := s.stands[name]
		if !stands(x.Key) {
			if s.c.Now().After(x.Alert.EndsAt) {
				delete(s.stands, name)
			}
			continue
		}
		p := x.Alert
		p.EndsAt = s.c.Now().Add(s.c.Hold)
		all = append(all, p)
	}
	if len(all) == 0 {
		return nil
	}
	body, err := json.Marshal(all)
	if err != nil {
		return err
	}
	return s.to.Post(ctx, nil, body)
}
