package sensortest

import (
	"context"
	"errors"
	"math/rand/v2"
	"testing"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
)

// judge is a TB that counts what it is told and runs its cleanups when asked.
type judge struct {
	testing.TB
	errors   int
	cleanups []func()
}

func (j *judge) Helper()                   { j.TB.Helper() }
func (j *judge) Error(...any)              { j.errors++ }
func (j *judge) Errorf(string, ...any)     { j.errors++ }
func (j *judge) Fatalf(f string, a ...any) { j.errors++ }
func (j *judge) Cleanup(f func())          { j.cleanups = append(j.cleanups, f) }

func (j *judge) end() int {
	for _, f := range j.cleanups {
		f()
	}
	return j.errors
}

func TestAScriptMustBeUsedUpAndNoMore(t *testing.T) {
	for _, c := range []struct {
		name     string
		measures int
		errors   int
	}{{"used up", 2, 0}, {"a step left", 1, 1}, {"one too many", 3, 1}} {
		j := &judge{TB: t}
		s := NewScript(j, "p", At(24, .5), Broken(sensor.BadFrame))
		for range c.measures {
			_, _ = s.Probe().Measure(t.Context()) // the script is what is looked at
		}
		if got := j.end(); got != c.errors {
			t.Errorf("%s: %d errors, want %d", c.name, got, c.errors)
		}
	}
}

func TestAPlaybackMustBeUsedUp(t *testing.T) {
	for transfers, want := range map[int]int{1: 0, 0: 1} {
		j := &judge{TB: t}
		b := Playback(j, i2ctest.IO{Addr: 0x44, W: []byte{1}})
		for range transfers {
			if err := b.Tx(0x44, []byte{1}, nil); err != nil {
				t.Error(err)
			}
		}
		if got := j.end(); got != want {
			t.Errorf("%d transfers: %d errors, want %d", transfers, got, want)
		}
	}
}

func TestRefusedSeesAValueBesideAnErrorAndAWrongCause(t *testing.T) {
	good := errors.New("part: x")
	for _, c := range []struct {
		name string
		m    sensor.Measurement
		err  error
		want int
	}{
		{"in order", sensor.None(), good, 0},
		{"a value", sensor.Measurement{Celsius: -40, Humidity: .5}, good, 1},
		{"another cause", sensor.None(), sensor.Fail(sensor.BadFrame, "part: x"), 1},
	} {
		j := &judge{TB: t}
		Refused(j, c.m, c.err, sensor.NoAnswer)
		if j.errors != c.want {
			t.Errorf("%s: %d errors, want %d", c.name, j.errors, c.want)
		}
	}
}

func TestWireAnswersSpoilsAndNotAcknowledges(t *testing.T) {
	w := &Wire{Parts: map[uint16]func(w, r []byte) error{0x44: func(_, r []byte) error { clear(r); return nil }}}
	if err := w.Tx(0x45, []byte{1}, nil); err == nil {
		t.Error("no part is at 0x45 and it is acknowledged")
	}
	seen := 0
	w.Spoil = Corrupt(rand.New(rand.NewPCG(1, 1)), .25, func() { seen++ })
	changed := 0
	for range 4000 {
		r := make([]byte, 6)
		if err := w.Tx(0x44, []byte{1}, r); err != nil {
			t.Fatal(err)
		}
		if [6]byte(r) != [6]byte{} {
			changed++
		}
	}
	if seen < 900 || seen > 1100 || changed < seen/2 || changed > seen {
		t.Errorf("of 4000 transfers %d were to be spoiled and %d were", seen, changed)
	}
}

func TestAHungStepAnswersWhenReleased(t *testing.T) {
	s := NewScript(t, "p", Hung(), Step{Wait: true})
	p := s.Probe()
	done := make(chan struct{})
	go func() {
		defer close(done)
		if _, err := p.Measure(t.Context()); err != nil {
			t.Error(err)
		}
	}()
	s.Release()
	<-done
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := p.Measure(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("a waiting step gives %v", err)
	}
}
