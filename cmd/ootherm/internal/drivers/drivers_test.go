package drivers

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
	"example.com/ootherm/sensor"
)

// A driver that the configuration offers and the station cannot open would be
// found out by the breeder alone.
func TestEveryConfiguredDriverOpens(t *testing.T) {
	opens := Drivers()
	for _, v := range config.Drivers() {
		if opens[v.Name] == nil {
			t.Errorf("the configuration takes the driver %s, but nothing opens it", v.Name)
		}
		delete(opens, v.Name)
	}
	for name := range opens {
		t.Errorf("the driver %s cannot be configured", name)
	}
}

// What is written in the file reaches the driver: each kind that needs no I2C
// bus is opened as a station does and measured.
func TestConfiguredProbesAreRead(t *testing.T) {
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{
		"w1/28-0316a2795aff/w1_slave":   "50 05 4b 46 7f ff 0c 10 1c : crc=1c YES\n50 05 4b 46 7f ff 0c 10 1c t=85000\n",
		"w1/28-0416a2795aff/w1_slave":   "82 01 4b 46 7f ff 0e 10 70 : crc=70 YES\n82 01 4b 46 7f ff 0e 10 70 t=24125\n",
		"iio/iio:device0/name":          "dht11\n",
		"iio/iio:device0/in_temp_input": "23500\n",
		"hwmon/hwmon3/name":             "sht4x\n",
		"hwmon/hwmon3/temp1_input":      "22750\n",
		"hwmon/hwmon3/humidity1_input":  "61000\n",
		"rows.csv":                      "time,probe,temperature_c,relative_humidity\n2026-01-01T00:00:00Z,tape,21.5,0.5\n",
	})
	page := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		fmt.Fprint(w, "shed_temperature{sensor=\"a\"} 75.2\nshed_temperature{sensor=\"b\"} 70\nshed_humidity{sensor=\"a\"} 55\n")
	}))
	defer page.Close()
	text := strings.NewReplacer("ROOT", root, "PAGE", page.URL).Replace(`
[[probe]]
name = "wire"
driver = "ds18b20"
address = "28-0416a2795aff"
path = "ROOT/w1"
[[probe]]
name = "dht"
driver = "iio"
device = "dht11"
path = "ROOT/iio"
[[probe]]
name = "sht"
driver = "hwmon"
path = "ROOT/hwmon/hwmon3"
[[probe]]
name = "shed"
driver = "scrape"
url = "PAGE"
temperature = "shed_temperature"
humidity = "shed_humidity"
labels = { sensor = "a" }
units = "fahrenheit"
percent = true
[[probe]]
name = "tape"
driver = "recording"
file = "ROOT/rows.csv"
`)
	c, err := config.Parse("egg.toml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	wires, err := Buses(c.Probes, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]string{}
	for _, b := range wires {
		probes, shut, err := b.Open(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range probes {
			m, err := p.Measure(t.Context())
			if err != nil {
				t.Errorf("%s: %v", b.Names[i], err)
			}
			got[b.Names[i]] = fmt.Sprintf("%.4g %.3g", m.Celsius, m.Humidity)
		}
		if err := shut(); err != nil {
			t.Error(err)
		}
	}
	for name, want := range map[string]string{"wire": "24.12 NaN", "dht": "23.5 NaN", "sht": "22.75 0.61", "shed": "24 0.55", "tape": "21.5 0.5"} {
		if got[name] != want {
			t.Errorf("%s: %s, not %s", name, got[name], want)
		}
	}
	if n := len(wires); n != 5 {
		t.Errorf("%d buses", n)
	}
}

// A part of another kind in the configuration would take all of its bus along.
func TestAPartThatIsNoThermometerIsRefused(t *testing.T) {
	_, err := Buses([]config.Probe{{Name: "a", Driver: "ds18b20", Address: "28-0316a2795aff"}, {Name: "b", Driver: "ds18b20", Address: "29-0416a2795aff"}}, time.Now)
	if err == nil || !usererr.IsUsage(err) || !strings.Contains(err.Error(), "probe b: ds18b20: 29-0416a2795aff is a switch (DS2408) and no thermometer") {
		t.Errorf("a switch: %v", err)
	}
}

// The parts of a 1-Wire bus convert one after the other, so they are polled so.
func TestOneWireIsOneBus(t *testing.T) {
	wires, err := Buses([]config.Probe{{Name: "a", Driver: "ds18b20", Address: "28-0316a2795aff"}, {Name: "b", Driver: "ds18b20", Address: "28-0416a2795aff"}}, time.Now)
	if err != nil || len(wires) != 1 || len(wires[0].Names) != 2 {
		t.Errorf("%+v, %v", wires, err)
	}
}

// A bus that hangs is opened again; a recording on it goes on where it was.
func TestRecordingGoesOnWhenItsBusIsReopened(t *testing.T) {
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{"rows.csv": "time,probe,temperature_c\n2026-01-01T00:00:00Z,tape,21.5\n2026-01-01T00:00:50Z,tape,22.5\n"})
	now := time.Unix(0, 0)
	wires, err := Buses([]config.Probe{{Name: "tape", Driver: "recording", File: filepath.Join(root, "rows.csv")}}, func() time.Time { return now })
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
		t.Errorf("opened again it read %g, its first row: it began anew", last.Celsius)
	}
}
