package probeconfig

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/usererr"
)

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
	c, err := config.Parse("egg.toml", []byte(text), Drivers())
	if err != nil {
		t.Fatal(err)
	}
	wires, err := Buses(c.Probes, time.Now, dialer.New())
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

// A part of another kind in the configuration is an error of its user.
func TestAPartThatIsNoThermometerIsRefused(t *testing.T) {
	_, err := Buses([]config.Probe{{Name: "a", Driver: "ds18b20", Address: "28-0316a2795aff"}, {Name: "b", Driver: "ds18b20", Address: "29-0416a2795aff"}}, time.Now, dialer.New())
	if err == nil || !usererr.IsUsage(err) || !strings.Contains(err.Error(), "probe b: 29-0416a2795aff is a switch (DS2408) and no thermometer") {
		t.Errorf("a switch: %v", err)
	}
}

// What the file says of humidity stands in the probe, for each way to say it.
func TestThermometers(t *testing.T) {
	for text, want := range map[string]bool{
		"driver = \"sht4x\"\nbus = \"/dev/i2c-1\"":                                        false,
		"driver = \"tmp117\"\nbus = \"/dev/i2c-1\"":                                       true,
		"driver = \"bme280\"\nbus = \"/dev/i2c-1\"":                                       false,
		"driver = \"ds18b20\"\naddress = \"28-0316a2795aff\"":                             true,
		"driver = \"scrape\"\nurl = \"http://a/\"\ntemperature = \"t\"":                   true,
		"driver = \"scrape\"\nurl = \"http://a/\"\ntemperature = \"t\"\nhumidity = \"h\"": false,
		"driver = \"mqtt\"\nurl = \"mqtt://a\"\ntopic = \"t\"":                            true,
		"driver = \"mqtt\"\nurl = \"mqtt://a\"\ntopic = \"t\"\nhumidity_topic = \"h\"":    false,
		"driver = \"recording\"\nfile = \"a.csv\"":                                        false,
		"driver = \"recording\"\nfile = \"a.csv\"\ncolumn = \"t\"":                        true,
		"driver = \"recording\"\nfile = \"a.csv\"\ncolumn = \"t:h\"":                      false,
	} {
		c, err := config.Parse("egg.toml", []byte("[[probe]]\nname = \"a\"\n"+text+"\n[[zone]]\nname = \"room\"\nprobes = [\"a\"]\nwanted = { low = \"20C\", high = \"30C\" }\n"), Drivers())
		if err != nil {
			t.Errorf("%s: %v", text, err)
		} else if got := c.Probes[0].Thermometer; got != want {
			t.Errorf("%s: a thermometer is %v, want %v", text, got, want)
		}
	}
}
