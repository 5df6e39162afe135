package panel

import (
	"slices"

	"example.com/ootherm/alert"
)

// Unwritten holds the alarms that changed and that the journal does not have yet.
type Unwritten struct {
	entries  []*entry
	episodes *Episodes
}

// Unwritten are the changes that the journal does not have yet. On-delays that just began are
// written with other changes, and not for themselves.
func (p *Panel) Unwritten() *Unwritten {
	u := &p.unwritten
	u.episodes = &p.Episodes
	if len(u.entries) > 0 {
		for _, e := range p.entries.byKey {
			if e.watched && !e.Pending.Equal(e.stored) {
				u.mark(e)
			}
		}
	}
	return u
}

// mark has the journal learn of an alarm.
func (u *Unwritten) mark(e *entry) {
	if !e.dirty {
		e.dirty = true
		u.entries = append(u.entries, e)
	}
}

// act notes that a person did something about an alarm.
func (u *Unwritten) act(e *entry) {
	e.acted = true
	u.mark(e)
}

// Changed are the alarms that changed since Written was last called.
func (u *Unwritten) Changed() []alert.Alarm {
	changed := make([]alert.Alarm, len(u.entries))
	for i, e := range u.entries {
		changed[i] = e.Alarm
	}
	return append(changed, u.episodes.changed()...)
}

// Written notes that the journal has what Changed gave.
func (u *Unwritten) Written() {
	for _, e := range u.entries {
		e.dirty, e.acted, e.stored = false, false, e.Pending
	}
	u.entries = u.entries[:0]
	u.episodes.written()
}

// Acted reports whether one of the changes of an alarm is what a person did about it.
func (u *Unwritten) Acted(k alert.Key) bool {
	return slices.ContainsFunc(u.entries, func(e *entry) bool { return e.acted && e.Key == k })
}

// DropUnacted forgets that alarms changed which no person did anything about.
func (u *Unwritten) DropUnacted() {
	u.entries = slices.DeleteFunc(u.entries, func(e *entry) bool {
		e.dirty = e.acted
		return !e.acted
	})
	u.episodes.written()
}
