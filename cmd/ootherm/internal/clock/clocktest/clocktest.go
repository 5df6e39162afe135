// Package clocktest simulates a machine whose clocks a test sets. It owns the simulated
// clocks. It must not decide what the right date of a boot is.
package clocktest

import (
	"fmt"
	"sync"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/clock"
)

// Simulated is a machine whose time passes when the test says so. Its wall clock may be
// wrong. True gives the right time. It starts synchronised.
type Simulated struct {
	mu     sync.Mutex
	truth  time.Time
	wrong  time.Duration // wall clock minus truth
	uptime time.Duration
	boots  int
	synced bool
}

// NewSimulated boots a machine at a time.
func NewSimulated(at time.Time) *Simulated {
	return &Simulated{truth: at, boots: 1, synced: true}
}

// Boot returns the identity of the present boot.
func (s *Simulated) Boot() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return fmt.Sprintf("simulated-%d", s.boots)
}

// Read reads all clocks.
func (s *Simulated) Read() (clock.Reading, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return clock.Reading{Wall: s.truth.Add(s.wrong), Uptime: s.uptime, Synchronised: s.synced}, nil
}

// True returns the right time.
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

// Step sets the wall clock by hand. As in the kernel, this ends synchronisation.
func (s *Simulated) Step(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.wrong += d
	s.synced = false
}

// Adjust steps the wall clock as a time daemon does: the clock stays synchronised.
func (s *Simulated) Adjust(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.wrong += d
}

// Synchronise sets the wall clock right, as an answer of a time source does.
func (s *Simulated) Synchronise() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.wrong, s.synced = 0, true
}

// Reboot simulates a power cut. Like a machine without a clock chip, the machine comes back
// with the time at which it stopped, unsynchronised.
func (s *Simulated) Reboot(outage time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.truth = s.truth.Add(outage)
	s.wrong -= outage
	s.uptime = 0
	s.boots++
	s.synced = false
}

// SetWall sets the wall clock to a time, as the boot of a machine without a stored time
// does. It ends synchronisation.
func (s *Simulated) SetWall(t time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.wrong = t.Sub(s.truth)
	s.synced = false
}
