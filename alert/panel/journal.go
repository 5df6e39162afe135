package panel

import (
	"slices"
	"time"

	"example.com/ootherm/alert"
)

// Changed are the alarms that changed since Written was last called, for the journal.
func (p *Panel) Changed() []alert.Alarm {
	changed := make([]alert.Alarm, len(p.dirty))
	for i, e := range p.dirty {
		changed[i] = e.Alarm
	}
	return changed
}

// Written notes that the journal has what Changed gave.
func (p *Panel) Written() {
	for _, e := range p.dirty {
		e.dirty, e.acted, e.stored = false, false, e.Pending
	}
	p.dirty = p.dirty[:0]
}

// Acted reports whether a person did something about an alarm that the journal does not have
// yet.
func (p *Panel) Acted(k alert.Key) bool {
	e := p.entries[k]
	return e != nil && e.acted
}

// DropUnacted forgets that alarms changed which no person did anything about.
func (p *Panel) DropUnacted() {
	p.dirty = slices.DeleteFunc(p.dirty, func(e *entry) bool {
		e.dirty = e.acted
		return !e.acted
	})
}

// NextMessage counts a message of an alarm, with or without a limit, and gives the identity
// of the message.
func (p *Panel) NextMessage(k alert.Key) string {
	e := p.entries[k]
	next, id := e.Next()
	e.Alarm = next
	p.mark(e)
	return id
}

// SetCalled notes when a message of a key was due that is no alarm's: of the daily report. The
// journal learns of it with the message.
func (p *Panel) SetCalled(k alert.Key, due time.Time) {
	if e := p.watched(k); e != nil {
		e.Called = due
	}
}

// EndUnwanted ends the alarms of the journal that stand and that nothing asks for.
func (p *Panel) EndUnwanted(why string) {
	for _, k := range p.kept() {
		if e := p.entries[k]; e.State != alert.Normal && !e.Out {
			p.remove(e, why)
		}
	}
}

// Forget drops the alarms that nothing asks for and that have not changed since a time, and
// gives the texts of their keys.
func (p *Panel) Forget(since time.Time) (keys []string) {
	for _, k := range p.kept() {
		if e := p.entries[k]; later(e.Changed, e.Called).Before(since) {
			keys = append(keys, k.String())
			delete(p.entries, k)
		}
	}
	return keys
}

// Shift moves the times of watched alarms that are not before a time, when the boot that they
// fell into turns out to have begun at another.
func (p *Panel) Shift(since time.Time, by time.Duration) {
	for _, e := range p.entries {
		if !e.watched {
			continue
		}
		for _, t := range []*time.Time{&e.Pending, &e.Clearing, &e.Began, &e.Since, &e.Changed, &e.Called, &e.AckedAt, &e.Last.At, &e.ShelvedUntil} {
			if !t.Before(since) {
				*t = t.Add(by)
			}
		}
		p.mark(e)
	}
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
