// Package clocktest is a machine whose clocks a test turns.
package clocktest

import (
	"fmt"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/clock"
)

// Simulated is a machine whose time passes when told to. Its wall clock may be
// wrong; True is always right. It starts synchronised.
type Simulated struct {
	mu     sync.Mutex
	truth  time.Time
	wrong  time.Duration // wall less truth
	uptime time.Duration
	boots  int
	synced bool
}

// NewSimulated boots a machine at a time.
func NewSimulated(at time.Time) *Simulated {
	return &Simulated{truth: at, boots: 1, synced: true}
}

// Boot is the name of the present boot.
func (s *Simulated) Boot() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return fmt.Sprintf("simulated-%d", s.boots)
}

// Read looks at the clocks.
func (s *Simulated) Read() (clock.Reading, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return clock.Reading{Wall: s.truth.Add(s.wrong), Uptime: s.uptime, Synchronised: s.synced}, nil
}

// True is the right time.
func (s *Simulated) True() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.truth
}

// Advance lets time pass.
func (s *Simulated) Advance(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.truth = s.truth.Add(d)
	s.uptime += d
}

// Step sets the wall clock by hand. As in the kernel, that ends synchronisation.
func (s *Simulated) Step(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.wrong += d
	s.synced = false
}

// Adjust is a step that a time daemon makes: the clock stays synchronised.
func (s *Simulated) Adjust(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.wrong += d
}

// Synchronise is a time source answering: the wall clock becomes right, by a
// step if it was not.
func (s *Simulated) Synchronise() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.wrong, s.synced = 0, true
}

// Reboot is a power cut that lasts for a time. A machine without a clock chip
// comes back with the time it had, and unsynchronised.
func (s *Simulated) Reboot(outage time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.truth = s.truth.Add(outage)
	s.wrong -= outage
	s.uptime = 0
	s.boots++
	s.synced = false
}

// SetWall makes the wall clock show a time, as the boot of a machine that
// remembers nothing does.
func (s *Simulated) SetWall(t time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.wrong = t.Sub(s.truth)
	s.synced = false
}
