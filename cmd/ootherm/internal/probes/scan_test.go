package probes

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.com/ootherm/cmd/ootherm/internal/benchtest"
	"example.com/ootherm/cmd/ootherm/internal/config"
	"example.com/ootherm/cmd/ootherm/internal/daemon"
	"example.com/ootherm/cmd/ootherm/internal/dialer"
	"example.com/ootherm/cmd/ootherm/internal/inventorytest"
	"example.com/ootherm/cmd/ootherm/internal/listener"
	"example.com/ootherm/cmd/ootherm/internal/probeconfig"
	"example.com/ootherm/cmd/ootherm/internal/snapshot"
	"example.com/ootherm/cmd/ootherm/internal/words"
	"example.com/ootherm/sensor/catalog"
	"example.com/ootherm/sensor/inventory"
	"periph.io/x/conn/v3/i2c"
)

// A scan names the probes that answer by their part, and says what to mend for the others.
func TestScanNamesWhatAnswers(t *testing.T) {
	places, closed := inventorytest.Board(t)
	known := []catalog.Settings{
		{Name: "shelf", Driver: "sht4x", Bus: filepath.Join(places.I2C, "i2c-1"), Address: "0x44"},
		{Name: "dummy-box", Driver: "ds18b20", Address: "28-0416a2795aff"},
		{Name: "cupboard", Driver: "hwmon", Path: filepath.Join(filepath.Dir(places.I2C), "cupboard")},
		{Name: "cellar", Driver: "hwmon", Path: "/nowhere/at/all"},
		{Name: "attic", Driver: "iio", Device: "dht11@11"},
		{Name: "gone", Driver: "ds18b20", Address: "28-0416a2795a00"},
	}
	s, err := inventory.Take(t.Context(), places, known)
	if err != nil {
		t.Fatal(err)
	}
	var out, messages strings.Builder
	if err := showScan(t.Context(), s, words.Reader{}, Options{Out: &out, Messages: &messages}); !errors.Is(err, errProbeMissing) {
		t.Errorf("the error is %v, want %v", err, errProbeMissing)
	}
	if err := s.Close(); err != nil || *closed != 1 {
		t.Errorf("the bus was closed %d times, %v", *closed, err)
	}
	got := strings.ReplaceAll(out.String(), filepath.Dir(places.I2C), "ROOT")
	for _, want := range []string{
		"hdc302x-44        hdc302x 0x44 on ROOT/dev/i2c-1, new\n    24.4 °C 50 %; 24.4 °C 50 %; 24.4 °C 50 %\n",
		"sht4x-45          sht4x 0x45 on ROOT/dev/i2c-1, new\n",
		"dummy-box         ds18b20 28-0416a2795aff on ROOT/w1, in the configuration\n    24.1 °C; 24.1 °C; 24.1 °C\n",
		"cupboard          hwmon on ROOT/cupboard, in the configuration\n    19.5 °C;",
		"dht11             iio dht11 on ROOT/iio, new\n    23.5 °C 51 %;",
		"hwmon             hwmon on ROOT/hwmon/hwmon1, new\n",
		"hwmon-2           hwmon on ROOT/hwmon/hwmon2, new\n",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("not shown: %q in\n%s", want, got)
		}
	}
	if strings.Contains(got, "cpu_thermal") || strings.Contains(got, "ads1015") {
		t.Errorf("what is no probe is shown:\n%s", got)
	}
	for _, want := range []string{
		"/i2c-3.\n    sudo usermod -aG i2c $USER",
		"Something at 0x40 on ", "but not as a htu21",
		"0x48 on ", "belongs to the kernel's driver tmp102",
		"The configuration's probe shelf, a sht4x, does not answer at 0x44", `write address = "0x45" in its [[probe]]`,
		"The configuration's probe cellar gives no value: /nowhere/at/all: ", ".\n    see its wiring, and that the overlay of the part is in",
		"The configuration's probe attic gives no value: /sys/bus/iio/devices: ", ".\n    see its wiring; if the kernel has not its overlay: echo dtoverlay=dht11,gpiopin=27",
		"The configuration's probe gone, a ds18b20, does not answer at 28-0416a2795a00.\n    see that it is plugged in",
	} {
		if !strings.Contains(messages.String(), want) {
			t.Errorf("not shown: %q in\n%s", want, messages.String())
		}
	}
}

// The configuration accepts the printed stanzas.
func TestStanzasAreAConfiguration(t *testing.T) {
	places, _ := inventorytest.Board(t)
	s, err := inventory.Take(t.Context(), places, nil)
	if err != nil {
		t.Fatal(err)
	}
	var all strings.Builder
	for _, f := range s.Found {
		all.WriteString(Stanza(f.Settings))
	}
	c, err := config.Parse("pasted", []byte(all.String()), probeconfig.Drivers())
	if err != nil {
		t.Fatalf("%v in\n%s", err, all.String())
	}
	if len(c.Probes) != 6 {
		t.Errorf("%d probes pasted, want 6", len(c.Probes))
	}
	for i, p := range c.Probes {
		if f := s.Found[i]; !inventory.Same(f.Settings, probeconfig.Settings(p, dialer.New())) {
			t.Errorf("pasted, %+v is %+v", f.Settings, p)
		}
	}
}

// A bare machine gives no probe, an error, and what to type.
func TestScanOfABareMachine(t *testing.T) {
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{"w1/w1_bus_master1/name": "w1_bus_master1\n"})
	var out, messages strings.Builder
	err := Show(t.Context(), Options{Out: &out, Messages: &messages, Config: emptyConfig(t, root), Places: inventory.Places{
		I2C: root, W1: filepath.Join(root, "w1"), IIO: root, Hwmon: root, Wait: inventorytest.NoWait,
	}})
	if err == nil || out.Len() > 0 {
		t.Errorf("found %q, %v", out.String(), err)
	}
	for _, want := range []string{"There is no I2C bus.\n    sudo raspi-config nonint do_i2c 0", "no thermometer on it answers", "4.7 kOhm"} {
		if !strings.Contains(messages.String(), want) {
			t.Errorf("not shown: %q in\n%s", want, messages.String())
		}
	}
}

func emptyConfig(t *testing.T, root string) string {
	t.Helper()
	path := filepath.Join(root, "egg.toml")
	benchtest.Lay(t, root, map[string]string{"egg.toml": fmt.Sprintf("[station]\ndata = %q\n", root)})
	return path
}

// A running station owns the buses, so it is asked and nothing is scanned.
func TestProbesOfTheRunningStation(t *testing.T) {
	root := t.TempDir()
	l, err := daemon.ListenSocket(root)
	if err != nil {
		t.Fatal(err)
	}
	n := snapshot.Snapshot{Zones: []snapshot.Zone{{Zone: "room", Spread: snapshot.Spread{SpreadK: snapshot.OptFloat(0.8)}, Probes: []snapshot.Probe{
		{Probe: "shelf", Celsius: snapshot.OptFloat(23.4), Humidity: snapshot.OptFloat(0.5), AgeSeconds: snapshot.OptFloat(4), Status: "ok"},
		{Probe: "door", Status: "suspect", Cause: snapshot.OptText("disagrees")},
	}}}}
	stop := listener.Serve(t.Context(), http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path != "/api/v1/now" {
			t.Errorf("asked for %s", r.URL)
		}
		_ = json.NewEncoder(w).Encode(n)
	}), func(err error) { t.Error(err) }, l)
	defer stop()
	var out, messages strings.Builder
	err = Show(t.Context(), Options{Out: &out, Messages: &messages, Config: emptyConfig(t, root), Places: inventory.Places{
		Open: func(string) (i2c.BusCloser, error) { t.Error("a bus was opened"); return nil, fs.ErrNotExist },
	}})
	if !errors.Is(err, errNoValue) {
		t.Errorf("the error is %v, want %v", err, errNoValue)
	}
	const want = "room: probes 0.8 °C apart over a day\n" +
		"  shelf             ok, 23.4 °C, 50 %, 4 s ago\n" +
		"  door              not believed: it disagrees with its neighbours\n"
	if out.String() != want || messages.Len() > 0 {
		t.Errorf("shown:\n%s%s\nwant:\n%s", out.String(), messages.String(), want)
	}
}

// --watch shows changes until the context ends.
func TestWatchShowsWhichOneWarms(t *testing.T) {
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{"hwmon/hwmon1/name": "sht4x\n", "hwmon/hwmon1/temp1_input": "22500\n"})
	ctx, stop := context.WithCancel(t.Context())
	rounds := 0
	var out, messages strings.Builder
	err := Show(ctx, Options{Out: &out, Messages: &messages, Watch: true, Config: emptyConfig(t, root), Places: inventory.Places{
		I2C: root, W1: root, IIO: root, Hwmon: filepath.Join(root, "hwmon"),
		Wait: func(context.Context, time.Duration) error {
			rounds++
			benchtest.Lay(t, root, map[string]string{"hwmon/hwmon1/temp1_input": fmt.Sprintln(22500 + 1000*max(0, rounds-2))})
			if rounds == 5 {
				stop()
			}
			return ctx.Err()
		},
	}})
	if err != nil {
		t.Fatal(err)
	}
	if want := "sht4x             23.5 °C, 1.0 °C since the start\n\nsht4x             24.5 °C, 2.0 °C since the start\n\n"; !strings.HasSuffix(out.String(), want) {
		t.Errorf("watched:\n%s\nwant at its end:\n%s", out.String(), want)
	}
}

// Probes whose devices lie in one folder are told apart by device: a reading under another
// probe's name would be believed.
func TestProbesThatShareAFolderKeepTheirNames(t *testing.T) {
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{
		"hwmon1/name": "sht4x\n", "hwmon1/temp1_input": "23000\n",
		"hwmon2/name": "tmp102\n", "hwmon2/temp1_input": "31000\n",
		"hwmon3/name": "dry\n", "hwmon3/humidity1_input": "50000\n",
	})
	at := func(name, device string) catalog.Settings {
		return catalog.Settings{Name: name, Driver: "hwmon", Device: device, Path: root}
	}
	s, err := inventory.Take(t.Context(), inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: root, Wait: inventorytest.NoWait}, []catalog.Settings{at("warm", "tmp102"), at("cool", "sht4x"), at("wet", "dry"), at("twin", "sht4x")})
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]float64{}
	for _, f := range s.Found {
		if f.Known != f.Name {
			t.Errorf("%s is known as %q", f.Name, f.Known)
		}
		got[f.Name] = f.Read[0].Celsius
	}
	if len(got) != 3 || got["warm"] != 31 || got["cool"] != 23 || got["twin"] != 23 {
		t.Errorf("found %v", got)
	}
	if last := fmt.Sprint(s.Troubles); !s.Lost || !strings.Contains(last, "probe wet gives no value: ") || !strings.Contains(last, "temp1_input") {
		t.Errorf("troubles: %v", last)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// A probe that gives a temperature and no humidity is shown with its temperature and a
// message.
func TestScanTellsOfALackingHumidity(t *testing.T) {
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{"hwmon/hwmon1/name": "sht4x\n", "hwmon/hwmon1/temp1_input": "22500\n", "hwmon/hwmon1/humidity1_input": "wet\n"})
	places := inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: filepath.Join(root, "hwmon"), Wait: inventorytest.NoWait}
	for _, asJSON := range []bool{false, true} {
		var out, messages strings.Builder
		if err := Show(t.Context(), Options{Out: &out, Messages: &messages, JSON: asJSON, Config: emptyConfig(t, root), Places: places}); !errors.Is(err, errNoValue) {
			t.Errorf("the error is %v, want %v", err, errNoValue)
		}
		want := "22.5 °C, no humidity: its answers are garbled;"
		if asJSON {
			want = `{"temperature_c":22.5,"relative_humidity":null,"error":null,"humidity_error":"`
		} else if !strings.Contains(messages.String(), "Sht4x gives a temperature and no humidity: "+root) {
			t.Errorf("messages:\n%s", messages.String())
		}
		if !strings.Contains(out.String(), want) {
			t.Errorf("not shown: %q in\n%s", want, out.String())
		}
	}
}

// A found probe that gives no value is an error. A good last reading is none, and neither
// is a watch that ends.
func TestProbesThatGiveNothingAreAProblem(t *testing.T) {
	for name, c := range map[string]struct {
		last  string
		watch bool
		want  error
	}{
		"in order": {last: "22500\n"}, "no value": {last: "", want: errNoValue}, "watched": {last: "", watch: true},
	} {
		root := t.TempDir()
		benchtest.Lay(t, root, map[string]string{"hwmon/hwmon1/name": "sht4x\n", "hwmon/hwmon1/temp1_input": "", "hwmon/hwmon2/name": "tmp102\n", "hwmon/hwmon2/temp1_input": "22500\n"})
		ctx, stop := context.WithCancel(t.Context())
		rounds := 0
		var out, messages strings.Builder
		err := Show(ctx, Options{Out: &out, Messages: &messages, Watch: c.watch, Config: emptyConfig(t, root), Places: inventory.Places{
			I2C: root, W1: root, IIO: root, Hwmon: filepath.Join(root, "hwmon"),
			Wait: func(context.Context, time.Duration) error {
				if rounds++; rounds == 2 {
					benchtest.Lay(t, root, map[string]string{"hwmon/hwmon1/temp1_input": c.last})
				}
				if rounds == 4 {
					stop()
				}
				return ctx.Err()
			},
		}})
		stop()
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v, after\n%s%s", name, err, c.want, out.String(), messages.String())
		}
	}
}

// An older thermometer is named by its part. Another 1-Wire part is named and skipped, and
// is not reported as bad wiring.
func TestScanOfWhatIsOnOneWire(t *testing.T) {
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{
		"w1/w1_bus_master1/name": "w1_bus_master1\n", "w1/29-0000001234ab/state": "x", "w1/81-000000123456/name": "81-000000123456\n",
	})
	places := inventory.Places{I2C: root, W1: filepath.Join(root, "w1"), IIO: root, Hwmon: root, Wait: inventorytest.NoWait}
	show := func() (string, string, error) {
		var out, messages strings.Builder
		err := Show(t.Context(), Options{Out: &out, Messages: &messages, Config: emptyConfig(t, root), Places: places})
		return out.String(), messages.String(), err
	}
	out, messages, err := show()
	if !errors.Is(err, errNoProbe) || out != "" || !strings.Contains(messages, "29-0000001234ab on 1-Wire is a switch (DS2408) and no thermometer.\n    nothing: it is passed over\n") ||
		!strings.Contains(messages, "1-Wire works, and no thermometer is on it.") || strings.Contains(messages, "see its three wires and the 4.7") {
		t.Errorf("%v\n%s%s", err, out, messages)
	}
	benchtest.Lay(t, root, map[string]string{"w1/10-000802be5de1/w1_slave": "32 00 4b 46 ff ff 0c 10 6b : crc=6b YES\n32 00 4b 46 ff ff 0c 10 6b t=25000\n"})
	out, messages, err = show()
	if err != nil || !strings.Contains(strings.ReplaceAll(out, root, "ROOT"), "ds18b20-5de1      ds18b20 10-000802be5de1 on ROOT/w1, a DS18S20: steps of 0.5 °C, refined by its counters to 0.06 °C, new\n    25.0 °C; ") {
		t.Errorf("%v\n%s", err, out)
	}
	if !strings.Contains(messages, "29-0000001234ab on 1-Wire") || strings.Contains(messages, "no thermometer is on it") {
		t.Errorf("messages:\n%s", messages)
	}
}

// A device whose name no configuration can hold is named by its folder.
func TestScanOfANameThatIsNone(t *testing.T) {
	root := t.TempDir()
	benchtest.Lay(t, root, map[string]string{"hwmon/hwmon3/name": "two\nlines\n", "hwmon/hwmon3/temp1_input": "21500\n"})
	s, err := inventory.Take(t.Context(), inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: filepath.Join(root, "hwmon"), Wait: inventorytest.NoWait}, nil)
	if err != nil || len(s.Found) != 1 {
		t.Fatalf("%+v, %v", s, err)
	}
	f := s.Found[0]
	if c, err := config.Parse("pasted", []byte(Stanza(f.Settings)), probeconfig.Drivers()); err != nil || f.Device != "" || c.Probes[0].Path != filepath.Join(root, "hwmon", "hwmon3") {
		t.Errorf("%+v, %v", f.Settings, err)
	}
}

// A probe of another device is asked over the network, and the reason why it gives nothing is
// told.
func TestProbesOfOtherDevices(t *testing.T) {
	device := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, "t 21.5\n") }))
	defer device.Close()
	root := t.TempDir()
	file := filepath.Join(root, "ootherm.toml")
	benchtest.Lay(t, root, map[string]string{"ootherm.toml": fmt.Sprintf(`[station]
data = %q
[[probe]]
name = "shed"
driver = "scrape"
url = %q
temperature = "t"
[[probe]]
name = "radio"
driver = "mqtt"
url = "mqtt://127.0.0.1:1"
topic = "hub/shelf"
`, filepath.Join(root, "data"), device.URL)})
	var out, messages strings.Builder
	err := Show(t.Context(), Options{Out: &out, Messages: &messages, Config: file, Places: inventory.Places{I2C: root, W1: root, IIO: root, Hwmon: root, Wait: inventorytest.NoWait}})
	if !errors.Is(err, errProbeMissing) || !strings.Contains(out.String(), "shed              scrape, in the configuration\n    21.5 °C;") {
		t.Errorf("%v\n%s", err, out.String())
	}
	for _, want := range []string{"probe radio gives no value: mqtt://127.0.0.1:1: connecting to 127.0.0.1:1: ", "see the other device"} {
		if !strings.Contains(messages.String(), want) {
			t.Errorf("not shown: %q in\n%s", want, messages.String())
		}
	}
}
