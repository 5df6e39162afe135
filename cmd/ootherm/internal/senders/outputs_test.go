package senders

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/output"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpioreg"
)

// fakeOutput is an output of a simulated board.
type fakeOutput struct {
	gpio.PinIO // methods that no test calls
	name       string
	number     int
	mu         sync.Mutex
	level      gpio.Level
}

func (w *fakeOutput) String() string { return w.name }
func (w *fakeOutput) Name() string   { return w.name }
func (w *fakeOutput) Number() int    { return w.number }

func (w *fakeOutput) Out(l gpio.Level) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.level = l
	return nil
}

func (w *fakeOutput) Read() gpio.Level {
	w.mu.Lock()
	defer w.mu.Unlock()
	return w.level
}

// addOutput adds an output to the simulated board until the test ends.
func addOutput(t *testing.T, number int) *fakeOutput {
	t.Helper()
	w := &fakeOutput{PinIO: gpio.INVALID, name: fmt.Sprintf("FAKE%d", number), number: number, level: gpio.High}
	if err := gpioreg.Register(w); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := gpioreg.Unregister(w.name); err != nil {
			t.Error(err)
		}
	})
	return w
}

// A lamp lights while a warning is active and not acknowledged. A buzzer sounds for a
// message and is silent afterwards. A lamp whose output is missing gives one error and does
// not stop the others.
func TestLampAndBuzzerOfTheConfiguration(t *testing.T) {
	lamp, bell := addOutput(t, 9017), addOutput(t, 9018)
	cfg := config.Config{Senders: []config.Sender{
		{Name: "nowhere", Kind: "lamp", Output: "NOSUCHPIN"}, {Name: "light", Kind: "lamp", Output: lamp.name}, {Name: "bell", Kind: "buzzer", Output: bell.name},
	}}
	l := LampsOf(cfg)
	state := alert.Normal
	alarms := func() []alert.Alarm {
		return []alert.Alarm{{Key: alert.Key{Kind: alert.TemperatureLow, Priority: alert.Warning, Zone: "room"}, State: state}}
	}
	for i, c := range []struct {
		state alert.State
		lit   gpio.Level
	}{{alert.Normal, gpio.Low}, {alert.Active, gpio.High}, {alert.Acknowledged, gpio.Low}, {alert.Active, gpio.High}, {alert.Normal, gpio.Low}} {
		state = c.state
		err := l.Show(alarms)
		if (err != nil) != (i == 0) || err != nil && !strings.Contains(err.Error(), "NOSUCHPIN") {
			t.Errorf("step %d: %v, want one error for the missing lamp", i, err)
		}
		if got := lamp.Read(); got != c.lit {
			t.Errorf("while the alarm is %s the lamp is %s", c.state, got)
		}
	}
	all, err := Routes(cfg, plan.Plan{}, time.Now)
	if err != nil || len(all) != 1 || all[0].Name != "bell" {
		t.Fatalf("routes %+v, %v, want the bell alone", all, err)
	}
	synctest.Test(t, func(t *testing.T) {
		started, highSamples := time.Now(), 0
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		done := make(chan error, 1)
		go func() { done <- all[0].Sender.Send(ctx, alert.Message{Priority: alert.Warning}) }()
		for {
			select {
			case err := <-done:
				if took := time.Since(started); err != nil || took != 3*(output.Beep+output.Rest) || highSamples < 3 || bell.Read() != gpio.Low {
					t.Errorf("it sounded for %v, was high in %d samples, is %s now (%v)", took, highSamples, bell.Read(), err)
				}
				return
			case <-time.After(50 * time.Millisecond):
				if bell.Read() == gpio.High {
					highSamples++
				}
			}
		}
	})
}
