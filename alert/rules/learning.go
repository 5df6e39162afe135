package rules

import "time"

// LearningUntil is when the early warning of a zone begins, where none of its drifts has
// learned enough yet. It is zero where one has, where the zone has no band, and while what was
// measured before is still read.
func (s *Set) LearningUntil(v *View, zone string) (until time.Time) {
	z := v.Zone(zone)
	if z == nil {
		return time.Time{}
	}
	for _, e := range s.drift.ends {
		for i := range z.watchers() {
			x := e.byProbe[z.watcher(i).Name] // a probe watches one zone alone
			if x == nil {
				continue
			}
			if !x.Ready() || x.Get().Learned() {
				return time.Time{}
			}
			if at := x.Get().LearningUntil(v.Now); until.IsZero() || at.Before(until) {
				until = at
			}
		}
	}
	return until
}
