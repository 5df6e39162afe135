package clock

import (
	"context"
	"fmt"
	"sync"
	"time"
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
	steps  chan struct{}
}

// NewSimulated boots a machine at a time.
func NewSimulated(at time.Time) *Simulated {
	return &Simulated{truth: at, boots: 1, synced: true, steps: make(chan struct{}, 1)}
}

// Boot is the name of the present boot.
func (s *Simulated) Boot() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return fmt.Sprintf("simulated-%d", s.boots)
}

// Read looks at the clocks.
func (s *Simulated) Read() (Reading, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return Reading{Wall: s.truth.Add(s.wrong), Uptime: s.uptime, Synchronised: s.synced}, nil
}

// Steps calls stepped after steps, as [Clock.Steps] does. Steps that follow one
// another closely may be told as one.
func (s *Simulated) Steps(ctx context.Context, stepped func()) error {
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-s.steps:
			stepped()
		}
	}
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
	s.tell()
}

// Synchronise is a time source answering: the wall clock becomes right, by a
// step if it was not.
func (s *Simulated) Synchronise() {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.wrong != 0 {
		s.tell()
	}
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
	s.tell()
}

// tell notes a step. The caller holds mu.
func (s *Simulated) tell() {
	select {
	case s.steps <- struct{}{}:
	default:
	}
}
