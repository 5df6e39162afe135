package panel

import (
	"time"

	"example.com/ootherm/alert"
)

// NextMessage counts a message of an alarm, with or without a limit, and gives the identity
// of the message.
func (p *Panel) NextMessage(k alert.Key) string {
	e := p.entries.find(k)
	next, id := e.Next()
	e.Alarm = next
	p.unwritten.mark(e)
	return id
}

// SetCalled notes when a message of a key was due that is no alarm's: of the daily report. The
// journal learns of it with the message.
func (p *Panel) SetCalled(k alert.Key, due time.Time) {
	if e := p.entries.watched(k); e != nil {
		e.Called = due
	}
}

// EndUnwanted ends the alarms of the journal that stand and that nothing asks for.
func (p *Panel) EndUnwanted(why string) {
	for _, k := range p.entries.kept() {
		if e := p.entries.find(k); e.State != alert.Normal && !e.Out {
			p.remove(e, why)
		}
	}
}

// Forget drops the alarms that nothing asks for and that have not changed since a time, and
// gives the texts of their keys.
func (p *Panel) Forget(since time.Time) (keys []string) {
	for _, k := range p.entries.kept() {
		if e := p.entries.find(k); later(e.Changed, e.Called).Before(since) {
			keys = append(keys, k.String())
			p.entries.remove(k)
		}
	}
	return append(keys, p.Episodes.forget()...)
}

// Shift moves the times of watched alarms that are not before a time, when the boot that they
// fell into turns out to have begun at another. The end of a shelving moves with its
// beginning. It moves too where it would else be farther away than [alert.MaxShelve].
func (p *Panel) Shift(since time.Time, by time.Duration) {
	for _, e := range p.entries.byKey {
		if !e.watched {
			continue
		}
		if !e.ShelvedUntil.IsZero() && !e.shelved.Before(since) || e.ShelvedUntil.Sub(p.now.Add(by)) > alert.MaxShelve {
			e.ShelvedUntil = e.ShelvedUntil.Add(by)
		}
		for _, t := range []*time.Time{&e.Pending, &e.Clearing, &e.Began, &e.Since, &e.Changed, &e.Called, &e.AckedAt, &e.Last.At, &e.shelved} {
			if !t.Before(since) {
				*t = t.Add(by)
			}
		}
		p.unwritten.mark(e)
	}
	p.Episodes.shift(since, by)
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}
