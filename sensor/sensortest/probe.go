// Package sensortest has probes and buses that follow a script of values and
// faults, and the test that every driver passes.
package sensortest

import (
	"context"
	"sync"
	"testing"

	"example.com/ootherm/sensor"
)

// Step is what a scripted probe does at one measurement.
type Step struct {
	sensor.Measurement
	Err  error // given instead of the values
	Hang bool  // answers only when the test ends, whatever the context says
	Wait bool  // answers with the context's error once that ends
}

// At is a step that measures.
func At(celsius, humidity float64) Step {
	return Step{Measurement: sensor.Measurement{Celsius: celsius, Humidity: humidity}}
}

// Broken is a step that fails for a cause.
func Broken(c sensor.Cause) Step {
	return Step{Err: sensor.Fail(c, "scripted fault: %s", c)}
}

// Hung is a step that never answers.
func Hung() Step { return Step{Hang: true} }

// Script is what a probe of one name does, measurement by measurement, whichever
// Probe of that name is asked: a bus that is opened again goes on in its script.
type Script struct {
	tb   testing.TB
	name string

	mu    sync.Mutex
	steps []Step
	used  int
	end   chan struct{}
}

// NewScript is a script that fails the test unless it is used up, or if it is
// asked for more.
func NewScript(tb testing.TB, name string, steps ...Step) *Script {
	s := &Script{tb: tb, name: name, steps: steps, end: make(chan struct{})}
	tb.Cleanup(func() {
		s.Release()
		s.mu.Lock()
		defer s.mu.Unlock()
		if s.used != len(s.steps) {
			tb.Errorf("%s: %d of %d steps were used", name, s.used, len(s.steps))
		}
	})
	return s
}

// Release lets every hung step answer, at last.
func (s *Script) Release() {
	s.mu.Lock()
	defer s.mu.Unlock()
	select {
	case <-s.end:
	default:
		close(s.end)
	}
}

// Used is how many steps were taken.
func (s *Script) Used() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.used
}

// Probe is a new probe that follows the script from where it is.
func (s *Script) Probe() sensor.Probe { return &probe{s} }

type probe struct{ script *Script }

func (p *probe) String() string { return p.script.name }

func (p *probe) Measure(ctx context.Context) (sensor.Measurement, error) {
	s := p.script
	s.mu.Lock()
	if s.used >= len(s.steps) {
		s.mu.Unlock()
		s.tb.Errorf("%s: measured more often than its %d steps", s.name, len(s.steps))
		return sensor.None(), sensor.Fail(sensor.NoAnswer, "%s: the script is used up", s.name)
	}
	step := s.steps[s.used]
	s.used++
	s.mu.Unlock()
	switch {
	case step.Hang:
		<-s.end
		return step.Measurement, nil
	case step.Wait:
		<-ctx.Done()
		return sensor.None(), sensor.Fail(sensor.NoAnswer, "%s: %w", s.name, ctx.Err())
	case step.Err != nil:
		return sensor.None(), step.Err
	}
	return step.Measurement, nil
}

// Bus is a bus of scripted probes, opened as often as it is asked to be.
func Bus(name string, scripts ...*Script) sensor.Bus {
	b := sensor.Bus{Name: name}
	for _, s := range scripts {
		b.Names = append(b.Names, s.name)
	}
	b.Open = func(context.Context) ([]sensor.Probe, func() error, error) {
		var probes []sensor.Probe
		for _, s := range scripts {
			probes = append(probes, s.Probe())
		}
		return probes, func() error { return nil }, nil
	}
	return b
}
