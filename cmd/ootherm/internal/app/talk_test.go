package app

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/sensor"
)

func TestDegreesAsPeopleWriteThem(t *testing.T) {
	for text, want := range map[string]float64{"74": 74, "74.5": 74.5, "74,5": 74.5, "74F": 74, "74 f": 74, "74 °F": 74, "74°": 74, "-0,2": -0.2} {
		if got, err := degrees(text, "F"); err != nil || got != want {
			t.Errorf("%q is %v, %v; want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"", "warm", "23C", "1,000.5", "7 4"} {
		if got, err := degrees(text, "F"); err == nil || !math.IsNaN(got) {
			t.Errorf("%q is taken for %v", text, got)
		}
	}
}

// An arrow key in one answer must not cost all the others, a name must not lead a
// secret's file elsewhere, and a folder must be the same for the station as for who
// answered.
func TestSlipsThatWouldBeToldTooLate(t *testing.T) {
	root := t.TempDir()
	file, data := filepath.Join(root, "etc", "egg.toml"), filepath.Join(root, "data")
	bare := Places{I2C: root, W1: root, IIO: root, Hwmon: root, wait: noWait}
	var out strings.Builder
	err := Setup(t.Context(), SetupOptions{Config: file, Places: bare, Out: &out, Now: noon,
		In: script(t, "f", "egg\x1b[Aroom", "egg room", "", "", "74,5 °F", "Crested Gecko", "y",
			"webhook", "../../evil", "hook", "http://127.0.0.1:1/x", "y", "s3cret", "", "", "~/data", "data", data, "", "y")})
	if err == nil || !strings.Contains(err.Error(), file+" is written") || strings.Contains(err.Error(), "nothing was written") {
		t.Errorf("ended at the offer of a test message: %v after\n%s", err, out.String())
	}
	for _, want := range []string{"such as an arrow", `"../../evil" has a / in it`, `"~/data" depends`, `"data" depends`} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("not shown: %q in\n%s", want, out.String())
		}
	}
	text, err := os.ReadFile(file)
	if err != nil || !strings.Contains(string(text), `set_point = "74.5F"`) || !strings.Contains(string(text), `"`+data+`"`) {
		t.Errorf("%v; written was\n%s", err, text)
	}
	if _, err := os.Stat(filepath.Join(root, "etc", "hook.secret")); err != nil {
		t.Error(err)
	}
}

// A name that no configuration takes is told where it is typed, and so is a folder that
// is a file; neither costs all the answers.
func TestNamesThatCannotBeAreToldAtOnce(t *testing.T) {
	root := t.TempDir()
	lay(t, root, map[string]string{"hwmon/hwmon1/name": "sht4x\n", "hwmon/hwmon1/temp1_input": "23000\n", "a file": ""})
	file, long := filepath.Join(root, "egg.toml"), strings.Repeat("x", 65)
	var out strings.Builder
	err := Setup(t.Context(), SetupOptions{Config: file, Out: &out, Now: noon,
		Places: Places{I2C: root, W1: root, IIO: root, Hwmon: filepath.Join(root, "hwmon"), wait: noWait},
		In: script(t, "f", long, "egg room", "a\u200bb", "room", "", "", "1", "\u200b", "shelf", "webhook", long, "hook", "http://127.0.0.1:1/x", "n", "",
			"", filepath.Join(root, "a file"), filepath.Join(root, "a file", "x"), filepath.Join(root, "data"), "n", "y", "n")})
	if err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	for what, n := range map[string]int{"That cannot be: name is longer than 64 characters": 2, "That cannot be: name has the character": 2, "is a file, and no folder": 2} {
		if got := strings.Count(out.String(), what); got < n {
			t.Errorf("%q is told %d times, want %d, in\n%s", what, got, n, out.String())
		}
	}
	c, err := config.Load(file)
	if err != nil || c.Station.Name != "egg room" || c.Zones[0].Name != "room" || c.Probes[0].Name != "shelf" || c.Senders[0].Name != "hook" {
		t.Errorf("%+v, %v", c, err)
	}
}

// Ctrl-C at a question ends its line, so that what is said of it has one of its own.
func TestCtrlCEndsItsLine(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var out strings.Builder
	talk := newTalk(ctx, &person{t: t}, &out)
	if _, err := talk.ask("Why"); !errors.Is(err, errNoAnswer) || out.String() != "Why: \n" {
		t.Errorf("%v after %q", err, out.String())
	}
}

// Ctrl-C while a probe settles is no fault of the probe.
func TestCalibrationBrokenOff(t *testing.T) {
	file, _, _ := room(t)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var out strings.Builder
	err := Calibrate(ctx, CalibrateOptions{Config: file, Probe: "shelf", Out: &out, Now: noon, In: script(t, "y", ""),
		wait: func(ctx context.Context, _ time.Duration) error {
			cancel()
			return sensor.Fail(sensor.NoAnswer, "the part is not done in time: %w", ctx.Err())
		}})
	if !errors.Is(err, errBrokenOff) || len(inBook(t, file)) != 0 {
		t.Errorf("broken off: %v", err)
	}
}

// A probe that fails while others on its bus answer is named in the log, with the
// file and what to do: once, from its third failure, and once when it is back.
func TestTheLogNamesAProbeThatFails(t *testing.T) {
	var log bytes.Buffer
	d := &daemon{log: slog.New(slog.NewTextHandler(&log, nil)), loop: &loop{batches: make(chan []sensor.Reading, 40)}}
	deliver := d.deliver()
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
	lack := func(err error, humidity float64) {
		deliver(t.Context(), sensor.Batch{Bus: "1-wire", Readings: []sensor.Reading{{Probe: "a", Measurement: sensor.Measurement{Humidity: humidity, Lacking: err}}}, Errs: []error{nil}})
	}
	for _, step := range []struct {
		err   error
		lines int
	}{{bad, 2}, {nil, 2}, {bad, 2}, {bad, 2}, {bad, 3}, {bad, 3}, {nil, 4}, {nil, 4}} {
		was := log.Len()
		if lack(nil, math.NaN()); log.Len() > was { // read anew, it is as if it never had any: that is no return
			t.Fatal(log.String())
		}
		humidity := 0.5
		if step.err != nil {
			humidity = math.NaN()
		}
		if lack(step.err, humidity); strings.Count(log.String(), "\n") != step.lines {
			t.Fatalf("of its humidity, not %d lines:\n%s", step.lines, log.String())
		}
	}
	for _, want := range []string{`"a probe gives no humidity" probe=a err=`, `"a probe gives humidity again" probe=a`, fmt.Sprintf("probe=b err=%q", bad.Error()), `"a probe gives values again" probe=b`} {
		if !strings.Contains(log.String(), want) {
			t.Errorf("not logged: %s in\n%s", want, log.String())
		}
	}
}
