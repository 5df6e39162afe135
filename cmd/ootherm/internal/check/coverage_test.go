package check

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/client"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
)

// coverage gives what check says of a room with a humidity band and these probes, of which
// its zone lists the first. Entries go into the book before.
func coverage(t *testing.T, root, probes, entries string) string {
	t.Helper()
	file := filepath.Join(root, "egg.toml")
	first, _, _ := strings.Cut(strings.SplitN(probes, `name = "`, 2)[1], `"`)
	text := fmt.Sprintf("[station]\ndata = %q\nlisten = \"127.0.0.1:0\"\n%s\n[[zone]]\nname = \"room\"\nprobes = [%q]\nhumidity = { low = \"45%%\", high = \"70%%\" }\n", filepath.Join(root, "data"), probes, first)
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if entries != "" {
		c, err := client.Dial(t.Context(), file, daemon.Build{})
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Note(t.Context(), []byte(entries)); err != nil {
			t.Fatal(err)
		}
		if err := c.Close(); err != nil {
			t.Fatal(err)
		}
	}
	var out strings.Builder
	if err := Coverage(t.Context(), &out, file, daemon.Build{}); err != nil {
		t.Fatalf("%v in\n%s", err, text)
	}
	return out.String()
}

// Check warns of a humidity band that none of the zone's probes can watch.
func TestHumidityBandWithoutAProbe(t *testing.T) {
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{
		"hwmon/hwmon1/name": "sht4x\n", "hwmon/hwmon1/temp1_input": "23000\n", "hwmon/hwmon1/humidity1_input": "51000\n",
		"hwmon/hwmon2/name": "tmp102\n", "hwmon/hwmon2/temp1_input": "23000\n",
		"iio/iio:device0/name": "dht11\n", "iio/iio:device0/in_temp_input": "23500\n", "iio/iio:device0/in_humidityrelative_input": "51000\n",
		"iio/iio:device1/name": "tsys\n", "iio/iio:device1/in_temp_input": "23500\n",
		"wet.csv": "time,probe,temperature_c,relative_humidity\n", "dry.csv": "time,probe,temperature_c\n",
	})
	for keys, dry := range map[string]bool{
		"driver = \"sht4x\"\nbus = \"/dev/i2c-1\"":                                                                  false,
		"driver = \"tmp117\"\nbus = \"/dev/i2c-1\"":                                                                 true,
		"driver = \"bme280\"\nbus = \"/dev/i2c-1\"":                                                                 false, // it may be one
		"driver = \"ds18b20\"\naddress = \"28-0123456789ab\"":                                                       true,
		"driver = \"simulated\"":                                                                                    false,
		fmt.Sprintf("driver = \"hwmon\"\npath = %q", filepath.Join(root, "hwmon/hwmon1")):                           false,
		fmt.Sprintf("driver = \"hwmon\"\ndevice = \"tmp102\"\npath = %q", filepath.Join(root, "hwmon")):             true,
		"driver = \"hwmon\"\npath = \"/nowhere/at/all\"":                                                            false, // it cannot be asked
		fmt.Sprintf("driver = \"iio\"\ndevice = \"dht11\"\npath = %q", filepath.Join(root, "iio")):                  false,
		fmt.Sprintf("driver = \"iio\"\npath = %q", filepath.Join(root, "iio/iio:device1")):                          true,
		"driver = \"scrape\"\nurl = \"http://127.0.0.1/metrics\"\ntemperature = \"c\"":                              true,
		"driver = \"scrape\"\nurl = \"http://127.0.0.1/metrics\"\ntemperature = \"c\"\nhumidity = \"rh\"":           false,
		fmt.Sprintf("driver = \"recording\"\nfile = %q", filepath.Join(root, "wet.csv")):                            false,
		fmt.Sprintf("driver = \"recording\"\nfile = %q", filepath.Join(root, "dry.csv")):                            true,
		fmt.Sprintf("driver = \"recording\"\nfile = %q\ncolumn = \"warm:wet\"", filepath.Join(root, "nowhere.csv")): false,
		fmt.Sprintf("driver = \"recording\"\nfile = %q\ncolumn = \"warm\"", filepath.Join(root, "nowhere.csv")):     true,
		fmt.Sprintf("driver = \"recording\"\nfile = %q", filepath.Join(root, "nowhere.csv")):                        false,
	} {
		said := coverage(t, root, "[[probe]]\nname = \"a\"\n"+keys, "")
		if want := "Consider: room has a humidity band, and none of its probes measures humidity, so there is no alarm when it is too dry or too damp there; give it a probe that does, or take the band away.\n"; dry && said != want || !dry && said != "" {
			t.Errorf("%s\nsays %q", keys, said)
		}
	}
}

// Check warns of a probe in no zone and no box. A probe in a box raises alarms, and
// watches the zone's humidity while eggs are in the box.
func TestProbeInNoZoneAndNoBox(t *testing.T) {
	probes := "[[probe]]\nname = \"a\"\ndriver = \"tmp117\"\nbus = \"/dev/i2c-1\"\n[[probe]]\nname = \"cellar\"\ndriver = \"simulated\"\n[[probe]]\nname = \"dummy\"\ndriver = \"sht4x\"\nbus = \"/dev/i2c-1\"\n"
	said := coverage(t, t.TempDir(), probes, "")
	for _, want := range []string{"Consider: the probe cellar raises no alarm: no zone lists it, and by the book no box has it; its readings are only kept.\n", "the probe dummy raises no alarm: ", "room has a humidity band"} {
		if strings.Count(said, want) != 1 {
			t.Errorf("not told: %q in\n%s", want, said)
		}
	}
	box := `{"key":"a1","at":"2026-04-02T19:00:00Z","entry":"dam","dam":"Sorrel","profile":"crested gecko"}
{"key":"a2","at":"2026-04-02T19:00:00Z","entry":"box","box":"B1","zone":"room","probe":"dummy"}
`
	if said = coverage(t, t.TempDir(), probes, box); strings.Contains(said, "dummy") || !strings.Contains(said, "cellar") || !strings.Contains(said, "humidity band") {
		t.Errorf("with an empty box:\n%s", said)
	}
	eggs := box + `{"key":"a3","at":"2026-04-02T19:03:00Z","entry":"clutch","clutch":"S1","dam":"Sorrel","eggs":2,"laid_after":"2026-04-01T19:00:00Z","laid_by":"2026-04-02T19:00:00Z"}
{"key":"a4","at":"2026-04-02T19:04:00Z","entry":"placed","egg":"S1-1","box":"B1","slot":"a"}
`
	if said = coverage(t, t.TempDir(), probes, eggs); strings.Contains(said, "dummy") || !strings.Contains(said, "cellar") || strings.Contains(said, "humidity band") {
		t.Errorf("with eggs in it:\n%s", said)
	}
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{"data": "no folder"})
	if said = coverage(t, root, probes, ""); !strings.Contains(said, "the probe cellar raises no alarm: no zone lists it; whether a box has it is not known: ") {
		t.Errorf("with a book that cannot be read:\n%s", said)
	}
}
