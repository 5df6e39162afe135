package daemon

import (
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/sensor/history"
)

// timekeeper dates this boot. The time it tells is uptime past the boot's start,
// so it never steps by itself.
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

// begin records this boot in the history, or goes on with it.
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

// look reads the clocks, and reports whether this boot is dated anew.
func (t *timekeeper) look() (clock.Date, bool, error) {
	r, err := t.machine.Read()
	if err != nil {
		return clock.Date{}, false, err
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	var anew bool
	t.dating, anew = t.dating.Observe(r)
	return t.dating.Date(), anew, nil
}

// uptime is the time since the boot. A clock that cannot be read now was read
// before; it stands still meanwhile.
func (t *timekeeper) uptime() time.Duration {
	r, err := t.machine.Read()
	if err != nil {
		return 0
	}
	return r.Uptime
}

// now is the time as this boot is dated.
func (t *timekeeper) now() time.Time {
	up := t.uptime()
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.dating.Date().At(up)
}
