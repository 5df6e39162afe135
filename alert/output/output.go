// Package output sounds a buzzer and lights a lamp on an output of the Pi: 3.3 V, a
// few milliamperes, through a transistor for anything more. Never mains, by a
// relay or otherwise.
package output

import (
	"context"
	"errors"
	"fmt"
	"time"

	"periph.io/x/conn/v3/gpio"

	"example.com/ootherm/alert"
)

// Out is an output; periph's gpio.PinOut is one.
type Out interface {
	Out(gpio.Level) error
	String() string
}

// Beep and Rest are one pulse of a buzzer and the pause after it.
const (
	Beep = 300 * time.Millisecond
	Rest = 200 * time.Millisecond
)

// pulses is how often it sounds for one message.
func pulses(m alert.Message) int {
	switch {
	case m.Over:
		return 1
	case m.Priority == alert.Critical:
		return 20
	case m.Priority == alert.Warning:
		return 3
	}
	return 1
}

// Buzzer sounds for each message: 20 times when it is critical, 3 for a warning,
// once for a notice and for an end. It is silent afterwards, however it went.
type Buzzer struct{ out Out }

var _ alert.Sender = (*Buzzer)(nil)

// NewBuzzer takes an output and silences it.
func NewBuzzer(out Out) (*Buzzer, error) {
	if err := out.Out(gpio.Low); err != nil {
		return nil, fmt.Errorf("silencing %s: %w", out, err)
	}
	return &Buzzer{out}, nil
}

// Send sounds once through. One cut short is not delivered.
func (b *Buzzer) Send(ctx context.Context, m alert.Message) (err error) {
	defer func() {
		if low := b.out.Out(gpio.Low); low != nil {
			err = errors.Join(err, fmt.Errorf("silencing %s: %w", b.out, low))
		}
	}()
	for range pulses(m) {
		for _, half := range []struct {
			level gpio.Level
			span  time.Duration
		}{{gpio.High, Beep}, {gpio.Low, Rest}} {
			if err := b.out.Out(half.level); err != nil {
				return fmt.Errorf("sounding %s: %w", b.out, err)
			}
			select {
			case <-ctx.Done():
				return fmt.Errorf("sounding %s: %w", b.out, ctx.Err())
			case <-time.After(half.span):
			}
		}
	}
	return nil
}

// Lamp is lit while an alarm that is no notice is active.
type Lamp struct {
	out Out
	lit bool
}

// NewLamp takes an output and puts it out.
func NewLamp(out Out) (*Lamp, error) {
	if err := out.Out(gpio.Low); err != nil {
		return nil, fmt.Errorf("putting %s out: %w", out, err)
	}
	return &Lamp{out: out}, nil
}

// Show lights the lamp by the alarms as they stand. It touches the output only
// when something changes.
func (l *Lamp) Show(alarms []alert.Alarm) error {
	lit := false
	for _, a := range alarms {
		lit = lit || a.State == alert.Active && a.Key.Priority != alert.Notice
	}
	if lit == l.lit {
		return nil
	}
	if err := l.out.Out(gpio.Level(lit)); err != nil {
		return fmt.Errorf("lighting %s: %w", l.out, err)
	}
	l.lit = lit
	return nil
}
