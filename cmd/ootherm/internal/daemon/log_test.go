package daemon

import (
	"bytes"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"strings"
	"testing"

	"example.com/ootherm/sensor"
)

// The log names a probe that fails while others on its bus answer, with the file and what
// to do: one line at its third failure in a row, and one line when it is back. The same
// holds for its humidity.
func TestLogNamesAFailingProbe(t *testing.T) {
	var log bytes.Buffer
	d := &daemon{log: slog.New(slog.NewTextHandler(&log, nil)), loop: &loop{batches: make(chan []sensor.Reading, 40)}}
	deliver := d.deliverTo()
	poll := func(err error) {
		deliver(t.Context(), sensor.Batch{Bus: "1-wire", Readings: []sensor.Reading{{Probe: "a"}, {Probe: "b"}}, Errs: []error{nil, err}})
	}
	bad := errors.New("w1_slave: the file is empty: see its wiring")
	for _, step := range []struct {
		err   error
		lines int
	}{{bad, 0}, {nil, 0}, {bad, 0}, {bad, 0}, {bad, 1}, {bad, 1}, {nil, 2}, {nil, 2}, {bad, 2}} {
		poll(step.err)
		if got := strings.Count(log.String(), "\n"); got != step.lines {
			t.Fatalf("%d lines for %d:\n%s", got, step.lines, log.String())
		}
	}
	pollHumidity := func(err error, humidity float64) {
		deliver(t.Context(), sensor.Batch{Bus: "1-wire", Readings: []sensor.Reading{{Probe: "a", Measurement: sensor.Measurement{Humidity: humidity, Lacking: err}}}, Errs: []error{nil}})
	}
	for _, step := range []struct {
		err   error
		lines int
	}{{bad, 2}, {nil, 2}, {bad, 2}, {bad, 2}, {bad, 3}, {bad, 3}, {nil, 4}, {nil, 4}} {
		was := log.Len()
		if pollHumidity(nil, math.NaN()); log.Len() > was { // a driver that starts again does not know that there is a humidity: no return
			t.Fatal(log.String())
		}
		humidity := 0.5
		if step.err != nil {
			humidity = math.NaN()
		}
		if pollHumidity(step.err, humidity); strings.Count(log.String(), "\n") != step.lines {
			t.Fatalf("humidity: want %d lines:\n%s", step.lines, log.String())
		}
	}
	for _, want := range []string{`"a probe gives no humidity" probe=a err=`, `"a probe gives humidity again" probe=a`, fmt.Sprintf("probe=b err=%q", bad.Error()), `"a probe gives values again" probe=b`} {
		if !strings.Contains(log.String(), want) {
			t.Errorf("not logged: %s in\n%s", want, log.String())
		}
	}
}
