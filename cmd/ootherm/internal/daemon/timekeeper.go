package daemon

import (
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/sensor/history"
)

// timekeeper dates this boot. Its time is the boot's start plus the uptime, so it does not
// step with the wall clock.
type timekeeper struct {
	machine machine
	floor   clock.Floor

	mu     sync.Mutex
	dating clock.Dating
}

func newTimekeeper(m machine, built time.Time) (*timekeeper, error) {
	r, err := m.Read()
	if err != nil {
		return nil, err
	}
	t := &timekeeper{machine: m, floor: clock.Floor{NotBefore: built}}
	t.dating = clock.Begin(r, t.floor)
	return t, nil
}

// begin records this boot in the history, or continues the boot if the history has it.
func (t *timekeeper) begin(h *history.Store) (history.Boot, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	date := t.dating.Date()
	b, err := h.Begin(t.machine.Boot(), date.Start, date.Bound, date.Synchronised)
	if err != nil {
		return history.Boot{}, err
	}
	t.floor.Last = h.EndBefore(b.Number)
	t.dating = clock.Resume(clock.Date{Start: b.Start, Bound: b.Bound, Synchronised: b.Synchronised}, t.floor)
	return b, nil
}

// raise dates this boot again, not before a time that was recorded earlier.
func (t *timekeeper) raise(last time.Time) error {
	r, err := t.machine.Read()
	if err != nil {
		return err
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	t.floor.Last = last
	t.dating = clock.Begin(r, t.floor)
	return nil
}

// update reads the clocks. It reports whether they changed the date of this boot.
func (t *timekeeper) update() (clock.Date, bool, error) {
	r, err := t.machine.Read()
	if err != nil {
		return clock.Date{}, false, err
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	var redated bool
	t.dating, redated = t.dating.Observe(r)
	return t.dating.Date(), redated, nil
}

// uptime returns the time since the boot. It returns 0 if the clock cannot be read.
func (t *timekeeper) uptime() time.Duration {
	r, err := t.machine.Read()
	if err != nil {
		return 0
	}
	return r.Uptime
}

// now returns the present time, by the date of this boot and the uptime.
func (t *timekeeper) now() time.Time {
	up := t.uptime()
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.dating.Date().At(up)
}
