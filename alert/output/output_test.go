package output_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/gpio"

	"example.com/ootherm/alert"
	"example.com/ootherm/alert/output"
)

// wire is an output that keeps what was asked of it, and fails when told to.
type wire struct {
	levels []gpio.Level
	at     []time.Time
	fail   map[int]error // by the number of the call
}

func (w *wire) Out(l gpio.Level) error {
	w.levels, w.at = append(w.levels, l), append(w.at, time.Now())
	return w.fail[len(w.levels)]
}

func (w *wire) String() string { return "GPIO17" }

// sounds is the pulses that were heard, and whether it is silent now.
func (w *wire) sounds() (n int, silent bool) {
	for i, l := range w.levels {
		if l && (i == 0 || !w.levels[i-1]) {
			n++
		}
	}
	return n, !bool(w.levels[len(w.levels)-1])
}

func TestBuzzer(t *testing.T) {
	for _, c := range []struct {
		m    alert.Message
		want int
	}{
		{alert.Message{Priority: alert.Critical}, 20},
		{alert.Message{Priority: alert.Warning}, 3},
		{alert.Message{Priority: alert.Notice}, 1},
		{alert.Message{Priority: alert.Critical, Over: true}, 1},
	} {
		synctest.Test(t, func(t *testing.T) {
			w := &wire{}
			b, err := output.NewBuzzer(w)
			if err != nil {
				t.Fatal(err)
			}
			begun := time.Now()
			if err := b.Send(t.Context(), c.m); err != nil {
				t.Fatal(err)
			}
			n, silent := w.sounds()
			if n != c.want || !silent {
				t.Errorf("%s, over %v: %d pulses, silent %v; want %d", c.m.Priority, c.m.Over, n, silent, c.want)
			}
			if took := time.Since(begun); took != time.Duration(n)*(output.Beep+output.Rest) {
				t.Errorf("%d pulses took %v", n, took)
			}
		})
	}
}

func TestABuzzerCutShortIsSilent(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		w := &wire{}
		b, err := output.NewBuzzer(w)
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond) // within the first pulse
		defer cancel()
		if err := b.Send(ctx, alert.Message{Priority: alert.Critical}); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%v", err)
		}
		if n, silent := w.sounds(); n != 1 || !silent {
			t.Errorf("%d pulses, silent %v", n, silent)
		}
	})
}

func TestABrokenPin(t *testing.T) {
	broken := errors.New("no such line")
	for call := 1; call <= 4; call++ {
		synctest.Test(t, func(t *testing.T) {
			w := &wire{fail: map[int]error{call: broken}}
			b, err := output.NewBuzzer(w)
			if err == nil {
				err = b.Send(t.Context(), alert.Message{Priority: alert.Notice})
			}
			if !errors.Is(err, broken) || !strings.Contains(err.Error(), "GPIO17") {
				t.Errorf("call %d failed: %v", call, err)
			}
			if _, silent := w.sounds(); !silent {
				t.Errorf("call %d failed, and it sounds on", call)
			}
		})
	}
}

func TestLamp(t *testing.T) {
	w := &wire{}
	l, err := output.NewLamp(w)
	if err != nil {
		t.Fatal(err)
	}
	alarm := func(p alert.Priority, s alert.State) alert.Alarm {
		return alert.Alarm{Key: alert.Key{Kind: alert.TemperatureHigh, Priority: p}, State: s}
	}
	for _, c := range []struct {
		alarms []alert.Alarm
		want   string
	}{
		{nil, "[Low]"},
		{[]alert.Alarm{alarm(alert.Notice, alert.Active)}, "[Low]"},
		{[]alert.Alarm{alarm(alert.Warning, alert.Shelved), alarm(alert.Warning, alert.Active)}, "[Low High]"},
		{[]alert.Alarm{alarm(alert.Warning, alert.Active)}, "[Low High]"},
		{[]alert.Alarm{alarm(alert.Warning, alert.Acknowledged)}, "[Low High Low]"},
	} {
		if err := l.Show(c.alarms); err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(w.levels); got != c.want {
			t.Errorf("%v: %s, want %s", c.alarms, got, c.want)
		}
	}
	w.fail = map[int]error{4: errors.New("gone")}
	lit := []alert.Alarm{alarm(alert.Critical, alert.Active)}
	if err := l.Show(lit); err == nil {
		t.Error("a lamp that does not light was not told")
	}
	if err := l.Show(lit); err != nil || !bool(w.levels[len(w.levels)-1]) {
		t.Errorf("it was not tried again: %v %v", err, w.levels)
	}
}
