package catalog

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"periph.io/x/conn/v3/i2c/i2ctest"

	"example.com/ootherm/sensor"
	"example.com/ootherm/sensor/mqtt"
	"example.com/ootherm/sensor/scrape"
	"example.com/ootherm/sensor/simulated"
)

// Every row opens a probe with settings of its own keys, and says what it needs of them.
func TestEveryDriverOpens(t *testing.T) {
	rows := filepath.Join(t.TempDir(), "rows.csv")
	if err := os.WriteFile(rows, []byte("time,probe,temperature_c,relative_humidity\n2026-01-01T00:00:00Z,a,21.5,0.5\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	own := map[string]Settings{
		"ds18b20":   {Address: "28-0316a2795aff"},
		"iio":       {Device: "dht11"},
		"hwmon":     {Path: t.TempDir()},
		"scrape":    {Scrape: scrape.Options{URL: "http://127.0.0.1/metrics", Temperature: scrape.Metric{Name: "t"}, Client: http.DefaultClient}},
		"mqtt":      {MQTT: mqtt.Options{Connection: mqtt.Connection{URL: "mqtt://hub"}, Topic: "t", Subscribe: noBroker}},
		"recording": {File: rows},
		"simulated": {Climate: simulated.Climate{SetPoint: 28, Humidity: 0.6}},
	}
	seen := map[string]bool{}
	for _, d := range Drivers() {
		if seen[d.Name] {
			t.Errorf("%s has two rows", d.Name)
		}
		seen[d.Name] = true
		for _, k := range d.Need {
			if !slices.Contains(d.Keys, k) {
				t.Errorf("%s needs the key %s, which it does not have", d.Name, k)
			}
		}
		s, listed := own[d.Name]
		switch {
		case listed == (d.First != 0):
			t.Errorf("%s has the I2C address %#x, and settings of another kind: %v", d.Name, d.First, listed)
			continue
		case d.First > d.Last || d.First != 0 && (d.First < 0x08 || d.Last > 0x77): // UM10204, table 4
			t.Errorf("%s has the I2C addresses %#x to %#x", d.Name, d.First, d.Last)
		}
		for _, address := range []uint16{d.First, d.Last} {
			s.Name, s.Driver = "a", d.Name
			if !listed {
				s.Address = fmt.Sprintf("%#x", address)
			}
			b := &Bus{I2C: &i2ctest.Record{}, Now: time.Now, Elapsed: func() time.Duration { return 0 }}
			if p, err := Open(s, b); err != nil || p == nil {
				t.Errorf("%s at %q does not open: %v", d.Name, s.Address, err)
			}
			if err := b.Close(); err != nil {
				t.Errorf("%s does not close: %v", d.Name, err)
			}
		}
		does, err := MeasuresHumidity(t.Context(), s)
		if want := d.Humidity; want != AskDevice && (err != nil || does != (want == Always)) {
			t.Errorf("%s measures humidity: %v, %v", d.Name, does, err)
		}
	}
	if _, err := Open(Settings{Name: "a", Driver: "other"}, &Bus{}); err == nil || err.Error() != "probe a: this build cannot read the driver other" {
		t.Errorf("an unknown driver: %v", err)
	}
}

// Where the row leaves humidity open, the settings, the kernel's files or the recording tell.
func TestMeasuresHumidity(t *testing.T) {
	root := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	moist := write("moist.csv", "time,probe,temperature_c,relative_humidity\n2026-01-01T00:00:00Z,a,21.5,0.5\n")
	dry := write("dry.csv", "time,probe,temperature_c\n2026-01-01T00:00:00Z,a,21.5\n")
	write("hwmon3/name", "sht4x\n")
	write("hwmon3/temp1_input", "22750\n")
	write("hwmon3/humidity1_input", "61000\n")
	write("hwmon4/name", "tmp102\n")
	write("hwmon4/temp1_input", "22750\n")
	for name, c := range map[string]struct {
		Settings
		want, fails bool
	}{
		"a part that may have it":         {Settings{Driver: "bme280"}, true, false},
		"a metric of it":                  {Settings{Driver: "scrape", Scrape: scrape.Options{Humidity: scrape.Metric{Name: "h"}}}, true, false},
		"no metric of it":                 {Settings{Driver: "scrape"}, false, false},
		"a field of it":                   {Settings{Driver: "mqtt", MQTT: mqtt.Options{Humidity: "h"}}, true, false},
		"a topic of it":                   {Settings{Driver: "mqtt", MQTT: mqtt.Options{HumidityTopic: "h"}}, true, false},
		"no topic of it":                  {Settings{Driver: "mqtt"}, false, false},
		"a column of it":                  {Settings{Driver: "recording", Column: "t:h"}, true, false},
		"a column of temperature alone":   {Settings{Driver: "recording", Column: "t"}, false, false},
		"a long recording with it":        {Settings{Driver: "recording", File: moist}, true, false},
		"a long recording without it":     {Settings{Driver: "recording", File: dry}, false, false},
		"a recording that is not there":   {Settings{Driver: "recording", File: filepath.Join(root, "none.csv")}, true, true},
		"a kernel's device with it":       {Settings{Driver: "hwmon", Path: filepath.Join(root, "hwmon3")}, true, false},
		"a kernel's device without it":    {Settings{Driver: "hwmon", Path: filepath.Join(root, "hwmon4")}, false, false},
		"a driver that is not known here": {Settings{Driver: "other"}, true, false},
	} {
		does, err := MeasuresHumidity(t.Context(), c.Settings)
		if does != c.want || (err != nil) != c.fails {
			t.Errorf("%s: %v, %v", name, does, err)
		}
	}
}

func noBroker(context.Context, mqtt.Connection, []string, func(), func(mqtt.Message)) error {
	return errors.New("no broker")
}

// The probes of one login at one broker share a connection, whatever their bus.
func TestOneConnectionForEachLogin(t *testing.T) {
	at := func(name, user string) Settings {
		return Settings{Name: name, Driver: "mqtt", Bus: name, MQTT: mqtt.Options{Connection: mqtt.Connection{URL: "mqtt://hub", User: user}, Topic: name, Subscribe: noBroker}}
	}
	buses, err := Buses([]Settings{at("a", ""), at("b", "keeper"), at("c", "")}, time.Now)
	if err != nil || len(buses) != 2 || buses[0].Name != "broker mqtt://hub" || buses[1].Name != "broker mqtt://hub as keeper" ||
		!slices.Equal(buses[0].Names, []string{"a", "c"}) || !buses[0].KeepOpen {
		t.Errorf("%+v, %v", buses, err)
	}
}

// The parts of a 1-Wire bus convert one after the other, so they are polled so.
func TestOneWireIsOneBus(t *testing.T) {
	wires, err := Buses([]Settings{{Name: "a", Driver: "ds18b20", Address: "28-0316a2795aff"}, {Name: "b", Driver: "ds18b20", Address: "28-0416a2795aff"}}, time.Now)
	if err != nil || len(wires) != 1 || len(wires[0].Names) != 2 {
		t.Errorf("%+v, %v", wires, err)
	}
}

// A bus that hangs is opened again; a recording on it goes on where it was.
func TestRecordingGoesOnWhenItsBusIsReopened(t *testing.T) {
	root := t.TempDir()
	rows := filepath.Join(root, "rows.csv")
	if err := os.WriteFile(rows, []byte("time,probe,temperature_c\n2026-01-01T00:00:00Z,tape,21.5\n2026-01-01T00:00:50Z,tape,22.5\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	now := time.Unix(0, 0)
	wires, err := Buses([]Settings{{Name: "tape", Driver: "recording", File: rows}}, func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	var last sensor.Measurement
	for range 2 {
		now = now.Add(50 * time.Second)
		probes, shut, err := wires[0].Open(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if last, err = probes[0].Measure(t.Context()); err != nil {
			t.Fatal(err)
		}
		if err := shut(); err != nil {
			t.Fatal(err)
		}
	}
	if last.Celsius != 22.5 {
		t.Errorf("opened again it read %g, its first row: it began again", last.Celsius)
	}
}
