package clock_test

import (
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/clock/clocktest"
)

var t0 = time.Date(2026, 4, 1, 12, 0, 0, 0, time.UTC)

// datedMachine is a simulated machine whose clocks a Dating observes every minute.
type datedMachine struct {
	*clocktest.Simulated
	t *testing.T
	clock.Dating
	redated int
}

func newDatedMachine(t *testing.T, s *clocktest.Simulated, last time.Time) *datedMachine {
	t.Helper()
	return &datedMachine{Simulated: s, t: t, Dating: clock.Begin(read(t, s), clock.Floor{NotBefore: built, Last: last})}
}

func read(t *testing.T, s *clocktest.Simulated) clock.Reading {
	t.Helper()
	r, err := s.Read()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func (c *datedMachine) run(d time.Duration) {
	c.t.Helper()
	for ; d > 0; d -= time.Minute {
		c.Advance(time.Minute)
		next, again := c.Observe(read(c.t, c.Simulated))
		if c.Dating = next; again {
			c.redated++
		}
	}
}

func (c *datedMachine) want(redated int, synchronised bool, off time.Duration) {
	c.t.Helper()
	now := read(c.t, c.Simulated)
	if c.redated != redated || c.Date().Synchronised != synchronised {
		c.t.Errorf("the date changed %d times, synchronised %t; want %d, %t", c.redated, c.Date().Synchronised, redated, synchronised)
	}
	if got := c.Date().At(now.Uptime).Sub(c.True()); got != off {
		c.t.Errorf("the time is off by %s, want %s", got, off)
	}
}

func TestDateOfSynchronisedBootStays(t *testing.T) {
	for name, step := range map[string]time.Duration{"+10 min": 10 * time.Minute, "-12 h": -12 * time.Hour, "+1 year": 365 * 24 * time.Hour} {
		t.Run(name, func(t *testing.T) {
			c := newDatedMachine(t, clocktest.NewSimulated(t0), time.Time{})
			c.run(time.Hour)
			c.Step(step)
			c.run(5 * time.Hour)
			c.want(0, true, 0)
			c.Synchronise()
			c.run(time.Hour)
			c.want(0, true, 0)
		})
	}
}

func TestDateOfBootWithoutTimeChangesOnce(t *testing.T) {
	s := clocktest.NewSimulated(t0)
	s.Advance(time.Hour)
	last := s.True()
	s.Reboot(3 * time.Hour)
	c := newDatedMachine(t, s, last)
	c.want(0, false, -3*time.Hour)
	c.run(time.Hour)
	c.want(0, false, -3*time.Hour)
	c.Synchronise()
	c.run(2 * time.Hour)
	c.want(1, true, 0)
	c.Step(time.Hour)
	c.run(time.Hour)
	c.Synchronise()
	c.run(time.Hour)
	c.want(1, true, 0)
}

func TestNoBootBeginsBeforeTheFloor(t *testing.T) {
	for name, last := range map[string]time.Time{"the build": {}, "the last reading": built.Add(100 * time.Hour)} {
		t.Run(name, func(t *testing.T) {
			floor := built
			if !last.IsZero() {
				floor = last
			}
			s := clocktest.NewSimulated(t0)
			s.Reboot(time.Minute)
			s.SetWall(time.Unix(0, 0))
			c := newDatedMachine(t, s, last)
			if got := c.Date().Start; !got.Equal(floor) {
				t.Errorf("the boot began at %s, want %s", got, floor)
			}
			if c.Date().Bound != clock.Unbounded {
				t.Errorf("its start is bounded by %s", c.Date().Bound)
			}
			c.run(time.Hour)
			if c.redated != 0 {
				t.Error("a clock without the time changed the date")
			}
		})
	}
}

func TestClockBeforeTheBuildIsWrong(t *testing.T) {
	c := newDatedMachine(t, clocktest.NewSimulated(built.Add(-time.Hour)), time.Time{})
	c.run(30 * time.Minute)
	c.want(0, false, time.Hour)
}

func TestSmallStepsDoNotChangeTheDate(t *testing.T) {
	s := clocktest.NewSimulated(t0)
	c := newDatedMachine(t, s, time.Time{})
	for range 5 {
		s.Adjust(300 * time.Millisecond)
		c.run(20 * time.Minute)
	}
	c.want(0, true, 0)
}

func TestStepOfEqualClockMustLast(t *testing.T) {
	t.Run("set by hand without a network", func(t *testing.T) {
		s := clocktest.NewSimulated(t0)
		s.Reboot(24 * time.Hour)
		c := newDatedMachine(t, s, time.Time{})
		c.run(time.Hour)
		c.Step(24 * time.Hour)
		c.run(9 * time.Minute)
		c.want(0, false, -24*time.Hour)
		c.run(time.Hour)
		c.want(1, false, 0)
	})
	t.Run("taken back", func(t *testing.T) {
		s := clocktest.NewSimulated(t0)
		s.Reboot(24 * time.Hour)
		c := newDatedMachine(t, s, time.Time{})
		for range 20 {
			c.Step(time.Hour)
			c.run(5 * time.Minute)
			c.Step(-time.Hour)
			c.run(5 * time.Minute)
		}
		c.want(0, false, -24*time.Hour)
	})
	t.Run("a time source that was wrong at first", func(t *testing.T) {
		s := clocktest.NewSimulated(t0)
		s.Adjust(time.Hour)
		c := newDatedMachine(t, s, time.Time{})
		c.run(time.Hour)
		c.want(0, true, time.Hour)
		c.Synchronise()
		c.run(time.Hour)
		c.want(1, true, 0)
	})
}

func TestResumedBootKeepsItsDate(t *testing.T) {
	s := clocktest.NewSimulated(t0)
	s.Reboot(time.Hour)
	c := newDatedMachine(t, s, time.Time{})
	c.run(time.Hour)
	stored := c.Date()
	c.Dating = clock.Resume(stored, clock.Floor{NotBefore: built})
	c.run(time.Hour)
	if c.Date() != stored || c.redated != 0 {
		t.Errorf("%+v became %+v", stored, c.Date())
	}
	c.Synchronise()
	c.run(time.Minute)
	c.want(1, true, 0)
}
