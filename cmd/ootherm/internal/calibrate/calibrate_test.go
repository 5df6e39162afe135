package calibrate

import (
	"context"
	"errors"
	"log/slog"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/clock"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/plan"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/air"
	"example.com/ootherm/thermal/book"
)

// The station's files are checked in a child of this program.
func TestMain(m *testing.M) {
	daemon.RunFileCheck()
	os.Exit(m.Run())
}

// calibrationsOf gives the calibrations in the book of a configuration.
func calibrationsOf(t *testing.T, file string) []book.Calibration {
	t.Helper()
	b, err := client.BookOf(t.Context(), file, daemon.Build{})
	if err != nil {
		t.Fatal(err)
	}
	return b.Calibrations("shelf")
}

// A calibration with ice, a thermometer at 30 C and table salt, and some wrong answers,
// notes the raw reading of each point. It computes humidity at the corrected temperature.
func TestCalibrateTakesIceThermometerAndSalt(t *testing.T) {
	file, _, read := benchtest.Room(t)
	p := &benchtest.Person{T: t, Lines: []benchtest.Step{
		{Line: "maybe"}, {Line: "y"}, {Line: "", Do: read(0.4, 0.9)},
		{Line: "thirty"}, {Line: "30"}, {Line: "", Do: read(30.2, 0.5)}, {Line: ""},
		{Line: "sugar"}, {Line: "NaCl"}, {Line: "", Do: read(25.25, 0.735)}, {Line: ""},
		{Line: "tomorrow"}, {Line: "2026-04-01"}, {Line: "y"},
	}}
	var out strings.Builder
	waits := 0
	err := Run(t.Context(), Options{
		Config: file, Probe: "shelf", In: p, Out: &out, Now: time.Now,
		wait: func(ctx context.Context, _ time.Duration) error { waits++; return ctx.Err() },
	})
	if err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	got := calibrationsOf(t, file)
	if len(got) != 1 || len(got[0].Points) != 3 || got[0].From.Format(time.DateOnly) != "2026-04-01" && got[0].From.Format(time.DateOnly) != "2026-03-31" {
		t.Fatalf("in the book: %+v", got)
	}
	near := func(what string, got, want, limit float64) {
		t.Helper()
		if math.Abs(got-want) > limit {
			t.Errorf("%s: %.5f, want %.5f", what, got, want)
		}
	}
	ice, warm, salt := got[0].Points[0], got[0].Points[1], got[0].Points[2]
	near("ice", *ice.ReferenceC, 0, 0)
	near("read in ice, raw, whatever the offset", *ice.ReadC, 0.4, 1e-9)
	near("thermometer", *warm.ReferenceC, 30, 1e-9)
	near("read beside it", *warm.ReadC, 30.2, 1e-9)
	near("over NaCl at 25 C", *salt.ReferenceRH, 0.7529, 0.0002)
	near("read over it, at the corrected temperature", *salt.ReadRH, 0.735*1.0140, 0.0005) // 0.233 K cooler holds 1.4 % less
	for _, want := range []string{"\"maybe\" is neither y nor n", "\"thirty\" is no temperature", "no table of the salt \"sugar\"", "Greenspan 1977", "NIST 1995", "settling", "at rest", "\"tomorrow\" is no day"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("not shown: %q in\n%s", want, out.String())
		}
	}
	if waits != 3*(settledReadings-1) {
		t.Errorf("%d waits, want %d: each point rests over %d readings", waits, 3*(settledReadings-1), settledReadings)
	}
}

// A reader of Fahrenheit gets all figures in Fahrenheit. Differences are scaled and not
// shifted.
func TestCalibrateSpeaksTheReadersUnits(t *testing.T) {
	file, _, read := benchtest.Room(t)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(strings.Replace(string(text), "[station]", "[station]\nunits = \"fahrenheit\"", 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	p := &benchtest.Person{T: t, Lines: []benchtest.Step{
		{Line: "y"}, {Line: "", Do: read(3, 0.9)}, // 5.4 °F off
		{Line: "500"}, {Line: "41F"}, {Line: "", Do: read(8, 0.5)}, {Line: ""}, // 41 °F is 5 C; the points are 5 K apart
		{Line: "NaCl"}, {Line: "", Do: read(8, 0.735)}, // too cold for the table
		{Line: "NaCl"}, {Line: "", Do: read(28, 0.5)}, {Line: ""},
		{Line: ""}, {Line: "n"},
	}}
	var out strings.Builder
	if err := Run(t.Context(), Options{
		Config: file, Probe: "shelf", In: p, Out: &out, Now: time.Now,
		wait: func(ctx context.Context, _ time.Duration) error { return ctx.Err() },
	}); err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	for _, want := range []string{
		`"500" is no temperature between −4.0 °F and 140.0 °F`, "At 32.00 °F it reads 37.40 °F, corrected 32.00 °F.",
		"less than 18.0 °F apart", "off by 5.4 °F", "near the 68.0 °F to 91.4 °F", "It is 41.00 °F there", "for 59.0 °F to 95.0 °F", "off by 15.6 %",
	} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("not shown: %q in\n%s", want, out.String())
		}
	}
	for _, celsius := range []string{"°C", " C ", " C.", " C,", " K ", "kelvin"} {
		if strings.Contains(out.String(), celsius) {
			t.Errorf("%q is shown to a reader of Fahrenheit in\n%s", celsius, out.String())
		}
	}
}

// A calibration that does not finish leaves the book as it was.
func TestCalibrateWritesNothingUnlessAsked(t *testing.T) {
	drift := 0.0
	for name, c := range map[string]struct {
		lines []string
		drift bool
		want  string // of the error; empty: none
	}{
		"no points":          {lines: []string{"n", "", ""}},
		"told no":            {lines: []string{"n", "23.5", "", "", "", "", "n"}},
		"left in the room":   {lines: []string{"y", "", ""}, want: "too far off to correct"},
		"input ends":         {lines: []string{"y", ""}, want: "nothing was written"},
		"never at rest":      {lines: []string{"y", ""}, drift: true, want: "did not come to rest"},
		"two points swapped": {lines: []string{"n", "50", "", "-10", "", "", ""}, want: "at point 1 the probe is too far off to correct"},
	} {
		t.Run(name, func(t *testing.T) {
			file, _, read := benchtest.Room(t)
			var out strings.Builder
			p := &benchtest.Person{T: t}
			for _, l := range c.lines {
				p.Lines = append(p.Lines, benchtest.Step{Line: l})
			}
			if name == "two points swapped" {
				p.Lines[2].Do, p.Lines[4].Do = read(-10, .5), read(50, .5)
			}
			err := Run(t.Context(), Options{
				Config: file, Probe: "shelf", In: p, Out: &out, Now: time.Now,
				wait: func(ctx context.Context, _ time.Duration) error {
					if drift += 0.01; c.drift {
						read(20+math.Mod(drift, 10), .5)()
					}
					return ctx.Err()
				},
			})
			if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
				t.Errorf("%v, want %q, after\n%s", err, c.want, out.String())
			}
			if all := calibrationsOf(t, file); len(all) != 0 {
				t.Errorf("in the book: %+v", all)
			}
		})
	}
}

// stationOf runs the station of a configuration until stop, which waits until it has ended.
func stationOf(t *testing.T, file, data string) (ctx context.Context, stop func()) {
	t.Helper()
	c, err := config.Load(file, probeconfig.Drivers())
	if err != nil {
		t.Fatal(err)
	}
	plan, err := plan.FromConfig(c)
	if err != nil {
		t.Fatal(err)
	}
	m, err := clock.System()
	if err != nil {
		t.Fatal(err)
	}
	wires, err := probeconfig.Buses(c.Probes, time.Now, dialer.New())
	if err != nil {
		t.Fatal(err)
	}
	d, err := daemon.Prepare(c, plan, daemon.Build{}, m, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- d.Run(ctx, wires, d.ServePage) }()
	tick := time.NewTicker(20 * time.Millisecond)
	defer tick.Stop()
	var there *client.Client
	for there == nil {
		select {
		case err := <-ended:
			t.Fatalf("the station ended: %v", err)
		case <-tick.C:
			if there, err = client.Running(ctx, data, words.Reader{}); err != nil {
				t.Fatal(err)
			}
		}
	}
	return ctx, func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
}

// A running station owns the bus: the session reads raw values through it, and its
// calibration holds at once.
func TestCalibrateThroughTheRunningStation(t *testing.T) {
	file, data, read := benchtest.Room(t)
	ctx, stop := stationOf(t, file, data)
	defer stop()
	var out strings.Builder
	p := &benchtest.Person{T: t, Lines: []benchtest.Step{{Line: "y"}, {Line: "", Do: read(0.4, 0.9)}, {Line: ""}, {Line: ""}, {Line: ""}, {Line: "y"}}}
	if err := Run(ctx, Options{Config: file, Probe: "shelf", In: p, Out: &out, Now: time.Now}); err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	got := calibrationsOf(t, file)
	if len(got) != 1 || len(got[0].Points) != 1 || math.Abs(*got[0].Points[0].ReadC-0.4) > 1e-9 {
		t.Errorf("in the book: %+v, after\n%s", got, out.String())
	}
	if !strings.Contains(out.String(), "The running station reads it.") {
		t.Errorf("shown:\n%s", out.String())
	}
}

// A part that reads more than 100 % is calibrated with its raw value, also through a running
// station, which does not show more than 100 %.
func TestCalibrateSeesPastSaturationThroughTheStation(t *testing.T) {
	file, data, read := benchtest.Room(t)
	ctx, stop := stationOf(t, file, data)
	defer stop()
	var out strings.Builder
	p := &benchtest.Person{T: t, Lines: []benchtest.Step{{Line: "n"}, {Line: ""}, {Line: "K2SO4"}, {Line: "", Do: read(25, 1.08)}, {Line: ""}, {Line: ""}, {Line: "y"}}}
	if err := Run(ctx, Options{Config: file, Probe: "shelf", In: p, Out: &out, Now: time.Now}); err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	got := calibrationsOf(t, file)
	want := air.AtTemperature(1.08, 25, 25.5) // by the configuration it reads half a degree too cold
	if len(got) != 1 || len(got[0].Points) != 1 || math.Abs(*got[0].Points[0].ReadRH-want) > 1e-9 || want < 1.04 {
		t.Errorf("in the book: %+v, want %.4f, after\n%s", got, want, out.String())
	}
}

// A calibration holds from a day since 2000 that is not before the probe's first reading
// and not in the future. Another answer is refused with the reason.
func TestFirstDayOfACalibration(t *testing.T) {
	file, data, read := benchtest.Room(t)
	ctx, stop := stationOf(t, file, data)
	var out strings.Builder
	today := time.Now().Format(time.DateOnly)
	p := &benchtest.Person{T: t, Lines: []benchtest.Step{{Line: "y"}, {Line: "", Do: read(0.4, 0.9)}, {Line: ""}, {Line: ""},
		{Line: "0001-01-01"}, {Line: "1999-12-31"}, {Line: "2026-04-01"}, {Line: "2199-01-01"}, {Line: "2026-02-30"}, {Line: "1.4.2026"}, {Line: today}, {Line: "y"}}}
	if err := Run(ctx, Options{Config: file, Probe: "shelf", In: p, Out: &out, Now: time.Now}); err != nil {
		t.Fatalf("%v after\n%s", err, out.String())
	}
	stop()
	for _, want := range []string{
		"0001-01-01 is before the year 2000", "1999-12-31 is before the year 2000", "2026-04-01 is before its first reading, of " + today,
		"2199-01-01 is still to come", `"2026-02-30" is no day`, `"1.4.2026" is no day`,
	} {
		if strings.Count(out.String(), want) != 1 {
			t.Errorf("not shown: %q in\n%s", want, out.String())
		}
	}
	got := calibrationsOf(t, file)
	if len(got) != 1 || got[0].From.In(time.Local).Format(time.DateOnly+" 15:04") != today+" 00:00" {
		t.Errorf("in the book: %+v", got)
	}
	// The station reads its files, and the book itself takes no day to come.
	c, err := client.Dial(t.Context(), file, daemon.Build{})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if first, there, err := c.First(t.Context(), "shelf"); err != nil || !there || first.In(time.Local).Format(time.DateOnly) != today {
		t.Errorf("its first reading is of %v, %v, %v", first, there, err)
	}
	if _, there, err := c.First(t.Context(), "nobody"); err == nil || there {
		t.Errorf("of a probe that is none: %v, %v", there, err)
	}
	err = c.Note(t.Context(), []byte(`{"key":"k9","at":"2026-04-02T19:00:00Z","entry":"calibrated","probe":"shelf","from":"2190-01-01T00:00:00Z","points":[{"reference_c":0,"read_c":0.5}]}`+"\n"))
	if err == nil || !strings.Contains(err.Error(), "from: 1 January 2190 00:00 is still to come") {
		t.Errorf("an entry that holds from a day to come: %v", err)
	}
}

// A probe in no zone that never gave a reading can be calibrated.
func TestCalibrateAProbeOfNoZone(t *testing.T) {
	file, _, read := benchtest.Room(t)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	head, _, _ := strings.Cut(string(text), "[[zone]]")
	if err := os.WriteFile(file, []byte(head), 0o600); err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	p := &benchtest.Person{T: t, Lines: []benchtest.Step{{Line: "y"}, {Line: "", Do: read(0.4, 0.9)}, {Line: ""}, {Line: ""}, {Line: "2026-04-01"}, {Line: "y"}}}
	if err := Run(t.Context(), Options{Config: file, Probe: "shelf", In: p, Out: &out, Now: time.Now,
		wait: func(ctx context.Context, _ time.Duration) error { return ctx.Err() }}); err != nil || len(calibrationsOf(t, file)) != 1 {
		t.Errorf("%v after\n%s", err, out.String())
	}
}

// Ctrl-C while a probe settles is not reported as a fault of the probe.
func TestInterruptedCalibration(t *testing.T) {
	file, _, _ := benchtest.Room(t)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var out strings.Builder
	err := Run(ctx, Options{Config: file, Probe: "shelf", Out: &out, Now: benchtest.Noon, In: benchtest.Script(t, "y", ""),
		wait: func(ctx context.Context, _ time.Duration) error {
			cancel()
			return sensor.Fail(sensor.NoAnswer, "the part is not done in time: %w", ctx.Err())
		}})
	if !errors.Is(err, errInterrupted) || len(calibrationsOf(t, file)) != 0 {
		t.Errorf("broken off: %v", err)
	}
}
