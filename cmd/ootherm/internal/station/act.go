package station

import (
	"context"

	"example.com/ootherm/alert/panel"
	"example.com/ootherm/alert/rules"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

// Act does what a person asked about alarms: to all that it names, or to none.
func (s *Station) Act(ctx context.Context, a panel.Action) error {
	s.panel.Step(s.now)
	if err := s.panel.Act(a); err != nil {
		return usererr.New(err.Error())
	}
	if a.Do == panel.PutBack && !s.o.Visit {
		s.refreshView()
		rules.ShowSwitchedOff(&s.view, s.panel)
	}
	s.record()
	s.publish()
	return s.commit(ctx)
}
