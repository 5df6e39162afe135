package config

import (
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// whole has every section; it is what the documentation shows.
func whole(t testing.TB) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", "whole.toml"))
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.Abs(got-want) > 0.005 {
		t.Errorf("%s = %.4f, want %.2f", what, got, want)
	}
}

func TestWhole(t *testing.T) {
	c, err := Parse("station.toml", []byte(whole(t)), drivers())
	if err != nil {
		t.Fatal(err)
	}
	s := c.Station
	if s.Name != "egg room" || !s.Fahrenheit || s.Location.String() != "America/New_York" || s.Listen != "127.0.0.1:8080" ||
		s.URL != "http://eggroom.local:8080" || !s.Addressed || s.Data != "/var/lib/ootherm" || s.Every != 10*time.Second || s.Flush != 5*time.Minute || s.Heartbeat != nil {
		t.Errorf("station: %+v", s)
	}
	want := []Probe{
		{Name: "shelf", Driver: "sht4x", Bus: "/dev/i2c-1", Address: "0x44", Offset: -0.2, SilentAfter: 5 * time.Minute},
		{Name: "dummy-box", Driver: "ds18b20", Address: "28-0123456789ab", SilentAfter: 5 * time.Minute, Thermometer: true},
	}
	if d := cmp.Diff(want, c.Probes); d != "" {
		t.Error(d)
	}
	z := c.Zones[0]
	if z.Name != "room" || z.Kind != "room" || len(z.Probes) != 2 {
		t.Errorf("zone: %+v", z)
	}
	near(t, "set point, C", *z.SetPoint, 23.33)
	near(t, "wanted low, C", *z.Wanted.Low, 22.22)
	near(t, "wanted high, C", *z.Wanted.High, 24.44)
	near(t, "wanted deadband, K (a difference, not a reading)", z.Wanted.Deadband, 0.28)
	near(t, "safe low, C", *z.Safe.Low, 20)
	near(t, "safe high, C", *z.Safe.High, 26.67)
	near(t, "humidity low", *z.Humidity.Low, 0.45)
	near(t, "humidity high", *z.Humidity.High, 0.70)
	near(t, "humidity deadband", z.Humidity.Deadband, 0.02)
	if z.Humidity.OnDelay != 30*time.Minute || z.Humidity.OffDelay != 10*time.Minute || z.Wanted.OnDelay != 10*time.Minute || z.Wanted.OffDelay != 5*time.Minute {
		t.Errorf("delays: %+v, %+v", z.Wanted, z.Humidity)
	}
	p := c.Profiles
	if len(p) != 2 || p[0].Family != "Diplodactylidae" || *p[0].Usual != 23.3 || *p[0].Upper != 27 || p[1].Name != "by hand" || *p[1].Base != 15 || *p[1].DegreeDays != 800 {
		t.Errorf("profiles: %+v", p)
	}
	if d := cmp.Diff([]Reference{{Celsius: 23.3, Days: 100, Source: "own notes", Practice: true}}, p[0].References); d != "" {
		t.Error(d)
	}
	senders := []Sender{
		{Name: "mail", Kind: "email", Login: Login{User: "keeper", PasswordFile: "/etc/ootherm/mail.password"},
			Mail: Mail{Host: "smtp.example.org", Port: 587, From: "keeper@example.org", To: []string{"keeper@example.org"}, TLS: "starttls"}},
		{Name: "neighbour", Kind: "webhook", URL: "https://hooks.example.org/x", After: 15 * time.Minute, Mail: Mail{TLS: "starttls"}},
	}
	if d := cmp.Diff(senders, c.Senders); d != "" {
		t.Error(d)
	}
}

// The packaged file is what a fresh machine starts from.
func TestPackaged(t *testing.T) {
	c, err := Load("../../../../deploy/ootherm.toml", drivers())
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Probes) == 0 || len(c.Zones) == 0 || c.Zones[0].Wanted == nil || c.Zones[0].Safe == nil {
		t.Errorf("a fresh station would watch nothing: %+v", c)
	}
}

func TestDefaults(t *testing.T) {
	c, err := Parse("x", []byte(`
[[probe]]
name = "a"
driver = "simulated"
[[zone]]
name = "z"
probes = ["a"]
wanted = { low = "20C" }
humidity = { high = "70%" }
[[sender]]
name = "m"
kind = "email"
host = "localhost"
tls = "none"
to = ["a@example.org"]
`), drivers())
	if err != nil {
		t.Fatal(err)
	}
	s := c.Station
	if s.Name != "ootherm" || s.Fahrenheit || s.Location != time.Local || s.Listen != "127.0.0.1:8080" || s.URL != "http://127.0.0.1:8080" || s.Addressed ||
		s.Data != "/var/lib/ootherm" || s.Every != 10*time.Second || s.Flush != 5*time.Minute {
		t.Errorf("station: %+v", s)
	}
	z := c.Zones[0]
	if z.Kind != "room" || z.SetPoint != nil || z.Safe != nil || z.Wanted.High != nil || z.Humidity.Low != nil {
		t.Errorf("what is absent is not nil: %+v", z)
	}
	near(t, "deadband", z.Wanted.Deadband, 0.28)
	near(t, "humidity deadband", z.Humidity.Deadband, 0.02)
	if z.Wanted.OnDelay != 10*time.Minute || z.Wanted.OffDelay != 5*time.Minute || z.Humidity.OnDelay != 30*time.Minute || z.Humidity.OffDelay != 10*time.Minute {
		t.Errorf("delays: %+v %+v", z.Wanted, z.Humidity)
	}
	if d := cmp.Diff(&SimAir{Celsius: 23.3, Swing: 0.5, Noise: 0.02, Humidity: 0.55}, c.Probes[0].Sim); d != "" {
		t.Error(d)
	}
	if m := c.Senders[0]; m.Port != 25 || m.From != "a@example.org" {
		t.Errorf("sender: %+v", m)
	}
}

// How long a zone may be beyond a limit, and how it may change.
func TestZoneLimits(t *testing.T) {
	const head = "[[probe]]\nname = \"a\"\ndriver = \"simulated\"\n[[zone]]\nname = \"z\"\nprobes = [\"a\"]\n"
	c, err := Parse("x", []byte(head+`rate = "9F"
apart = "2C"
single_event = { low = "-0.5C", high = "45C", for = "1h" }
cumulative = { high = "30C", for = "10h" }
`), drivers())
	if err != nil {
		t.Fatal(err)
	}
	z := c.Zones[0]
	near(t, "rate, K an hour", z.Rate, 5)
	near(t, "apart, K", z.Apart, 2)
	near(t, "single event's high, C", *z.Single.High, 45)
	if z.Single.For != time.Hour || z.Total.For != 10*time.Hour || z.Total.Low != nil {
		t.Errorf("exposures: %+v, %+v", z.Single, z.Total)
	}
	_, err = Parse("x", []byte(head+`rate = "0C"
single_event = { for = "1h" }
cumulative = { low = "30C", high = "20C" }
[[sender]]
name = "s"
kind = "mqtt"
url = "http://broker"
quiet = { from = "25:00" }
most_an_hour = 0
secret = "x"
`), drivers())
	for _, part := range []string{"zone.rate", "write low, high or both", "zone.cumulative.for", "zone.cumulative.low", "sender.url", "sender.quiet.from", "sender.quiet.to", "sender.most_an_hour", "secret_file"} {
		if err == nil || !strings.Contains(err.Error(), part) {
			t.Errorf("not told of %s:\n%v", part, err)
		}
	}
}

func TestEverythingWrongAtOnce(t *testing.T) {
	data := strings.NewReplacer(
		`every     = "10s"`, `every = 10s`,
		`driver = "sht4x"`, `driver = "sht4"`,
		`set_point = "74F"`, `set_point = 74`,
		`wanted    = { low = "72F", high = "76F"`, `wanted = { low = 72F, high = "76"`,
		`low = "45%", high = "70%"`, `low = "70%", high = "45%"`,
		`port = 587`, `prot = 587`,
	).Replace(whole(t))
	_, err := Parse("station.toml", []byte(data), drivers())
	var faults Faults
	if !errors.As(err, &faults) {
		t.Fatalf("Parse = %v, want Faults", err)
	}
	got := map[string]string{}
	for _, f := range faults {
		got[f.Key] = f.Why
		line := strings.Split(data, "\n")[f.Line-1]
		if f.Line < 1 || f.Column < 1 || f.Column > len(line)+1 {
			t.Errorf("%v stands outside its line %q", f, line)
		}
		word := f.Key[strings.LastIndex(f.Key, ".")+1:]
		if !strings.Contains(line, word) {
			t.Errorf("%v: its line is %q", f, line)
		}
	}
	for key, why := range map[string]string{
		"station.every":     `write "10s"`,
		"probe.driver":      `did you mean "sht4x"?`,
		"zone.set_point":    `write it as "74F" or "23.3C"`,
		"zone.low":          `write "72F"`,
		"zone.wanted.high":  `write "76F" or "76C"`,
		"zone.humidity.low": "is not below high",
		"sender.prot":       `did you mean "port"?`,
	} {
		if !strings.Contains(got[key], why) {
			t.Errorf("%s: told %q, want %q", key, got[key], why)
		}
		delete(got, key)
	}
	if len(got) > 0 {
		t.Errorf("told besides: %v", got)
	}
	if n := len(strings.Split(err.Error(), "\n")); n != len(faults) {
		t.Errorf("%d lines for %d faults", n, len(faults))
	}
}

func TestFaultSaysWhere(t *testing.T) {
	_, err := Parse("egg.toml", []byte("[station]\nevery = \"10s\" # ü\n\n[[probe]]\n  name = \"a\"\n  drivr = \"iio\"\n"), drivers())
	want := `egg.toml:4:3: probe.driver: is missing; write one of sht4x, sht3x, hdc302x, htu21, aht20, mcp9808, tmp117, bme280, ds18b20, iio, hwmon, scrape, mqtt, recording, simulated
egg.toml:6:3: probe.drivr: is not known here; did you mean "driver"?`
	if err == nil || err.Error() != want {
		t.Errorf("got\n%v\nwant\n%s", err, want)
	}
}

// A column is a character of the reader's file, whatever was mended on the way.
func TestColumns(t *testing.T) {
	_, err := Parse("e", []byte("[[zone]]\nname = \"é\"\nprobes = []\nwanted = { low = 72F, high = 7 }\n"), drivers())
	var faults Faults
	if !errors.As(err, &faults) {
		t.Fatal(err)
	}
	var at []string
	for _, f := range faults {
		at = append(at, fmt.Sprintf("%d:%d", f.Line, f.Column))
	}
	if d := cmp.Diff([]string{"3:1", "4:18", "4:30"}, at); d != "" {
		t.Error(d, err)
	}
}

func TestSyntax(t *testing.T) {
	for name, c := range map[string]struct {
		data string
		line int
		why  string
	}{
		"no value":          {"[station]\nname = \"a\"\nevery =\n", 3, "not TOML"},
		"open text":         {"[station]\nname = \"a\n", 2, "not TOML"},
		"open list":         {"[[zone]]\nname = \"z\"\nprobes = [\"a\"\nset_point = \"74F\"\n", 4, "not TOML"},
		"open header":       {"[station\nname = \"a\"\n", 1, "not TOML"},
		"a key twice":       {"[station]\nname = \"a\"\nname = \"b\"\n", 3, "is on line 2 already"},
		"a section twice":   {"[station]\nname = \"a\"\n[station]\nevery = \"5s\"\n", 3, "began on line 1"},
		"one of many":       {"[zone]\nname = \"a\"\n[[zone]]\nname = \"b\"\n", 3, "two brackets"},
		"many, then one":    {"[[probe]]\nname = \"a\"\ndriver=\"simulated\"\n[probe]\nname = \"b\"\n", 4, "two brackets"},
		"below a value":     {"[station]\nname = \"a\"\nname.b = 1\n", 3, "nothing below it"},
		"an impossible day": {"[station]\nname = 2026-02-30\n", 2, "date"},
		"no text at all":    {"\xff\xfe", 1, "not TOML"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Parse("e", []byte(c.data), drivers())
			if err == nil {
				t.Fatal("taken")
			}
			for _, f := range func() Faults { var f Faults; errors.As(err, &f); return f }() {
				if f.Line == c.line && strings.Contains(f.Why, c.why) {
					return
				}
			}
			t.Errorf("line %d %q is not told:\n%v", c.line, c.why, err)
		})
	}
}

// In a replay the readings come from a file: what only polling needs may be absent.
func TestReplay(t *testing.T) {
	data := []byte(`
[[probe]]
name = "p1"
driver = "recording"
[[probe]]
name = "p2"
[[zone]]
name = "room"
probes = ["p1", "p2", "p3"]
`)
	if _, err := Parse("e", data, drivers()); err == nil || strings.Count(err.Error(), "\n") != 2 {
		t.Errorf("to poll these: %v; want a file, a driver and a probe to be missing", err)
	}
	c, err := ParseReplay("e", data, drivers())
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, p := range c.Probes {
		names = append(names, p.Name+" "+p.Driver)
	}
	if d := cmp.Diff([]string{"p1 recording", "p2 recording", "p3 recording"}, names); d != "" {
		t.Error(d)
	}
	if _, err := ParseReplay("e", []byte("[[probe]]\nname = \"a\"\noffset = 1\n"), drivers()); err == nil {
		t.Error("an offset without a unit was taken in a replay")
	}
}

func TestLoadNamesTheFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "none.toml")
	if _, err := Load(path, drivers()); !errors.Is(err, os.ErrNotExist) || !strings.Contains(err.Error(), path) {
		t.Errorf("Load = %v", err)
	}
	if err := os.WriteFile(path, []byte("[station]\nnme = \"x\"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Load(path, drivers()); err == nil || !strings.HasPrefix(err.Error(), path+":2:1: station.nme: ") {
		t.Errorf("Load = %v", err)
	}
}

// The book leaves the card on Sundays by mail, unless the file says otherwise.
func TestCopy(t *testing.T) {
	const mail = "[[sender]]\nname = \"m\"\nkind = \"email\"\nhost = \"127.0.0.1\"\ntls = \"none\"\nto = [\"a@example.org\"]\n"
	for text, want := range map[string]Copy{
		"": {Mail: true, Keep: 12},
		"[copy]\nday = \"friday\"\nmail = false\nfolder = \"/mnt/stick\"\nkeep = 3\n": {Day: time.Friday, Folder: "/mnt/stick", Keep: 3},
		mail + "[copy]\nmail = true\n": {Mail: true, Keep: 12},
	} {
		c, err := Parse("x", []byte(text), drivers())
		if err != nil || c.Copy != want {
			t.Errorf("%q is %+v, %v, want %+v", text, c.Copy, err, want)
		}
	}
	for text, want := range map[string]string{
		"[copy]\nday = \"sonntag\"\n":     "sonntag",
		"[copy]\nmail = true\n":           "no sender of the kind email",
		"[copy]\nfolder = \"stick\"\n":    "write the whole path",
		"[copy]\nkeep = 3\n":              "folder",
		"[copy]\nfoldr = \"/mnt\"\n":      "folder",
		"[copy]\nfolder=\"/x\"\nkeep=0\n": "keep",
	} {
		if _, err := Parse("x", []byte(text), drivers()); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want a word of %s", text, err, want)
		}
	}
}
